# What `cmake --install` puts where. Two components: `program`, for whoever forecasts piles, and
# `development`, for programs that use the engine.
include(GNUInstallDirs)
include(CMakePackageConfigHelpers)
set(docdir ${CMAKE_INSTALL_DATADIR}/doc/heapcast)

install(TARGETS heapcast COMPONENT program)

# Manual page and completions are made by the program, from the table by which it parses.
set(shell_files ${CMAKE_CURRENT_BINARY_DIR}/generated/shell)
file(MAKE_DIRECTORY ${shell_files})
add_custom_command(
  OUTPUT ${shell_files}/heapcast.1.gz ${shell_files}/heapcast ${shell_files}/_heapcast
  COMMAND heapcast --man-page > ${shell_files}/heapcast.1
  COMMAND gzip -9nkf ${shell_files}/heapcast.1
  COMMAND heapcast --completion bash > ${shell_files}/heapcast
  COMMAND heapcast --completion zsh > ${shell_files}/_heapcast
  DEPENDS heapcast
  COMMENT "Writing manual page and completions"
  VERBATIM)
add_custom_target(heapcast_shell_files ALL DEPENDS ${shell_files}/heapcast.1.gz)
install(FILES ${shell_files}/heapcast.1.gz DESTINATION ${CMAKE_INSTALL_MANDIR}/man1
        COMPONENT program)
install(FILES ${shell_files}/heapcast
        DESTINATION ${CMAKE_INSTALL_DATADIR}/bash-completion/completions COMPONENT program)
# Debian's zsh looks below /usr in another folder than below /usr/local.
install(CODE "
  set(folder site-functions)
  if(CMAKE_INSTALL_PREFIX MATCHES \"/usr$\" AND EXISTS /etc/debian_version)
    set(folder vendor-completions)
  endif()
  file(INSTALL TYPE FILE FILES \"${shell_files}/_heapcast\"
       DESTINATION \"\${CMAKE_INSTALL_PREFIX}/${CMAKE_INSTALL_DATADIR}/zsh/\${folder}\")
" COMPONENT program)

install(FILES README.md DESTINATION ${docdir} COMPONENT program)
install(DIRECTORY examples DESTINATION ${docdir} COMPONENT program PATTERN run.sh EXCLUDE)
install(FILES LICENSE DESTINATION ${docdir} COMPONENT licence)

# The library: static, with the headers as the sources include them.
foreach(layer IN ITEMS engine models)
  set_target_properties(heapcast_${layer} PROPERTIES EXPORT_NAME ${layer})
  target_include_directories(heapcast_${layer} INTERFACE
    $<INSTALL_INTERFACE:${CMAKE_INSTALL_INCLUDEDIR}/heapcast>)
  target_compile_features(heapcast_${layer} INTERFACE $<INSTALL_INTERFACE:cxx_std_20>)
  install(DIRECTORY ${layer} DESTINATION ${CMAKE_INSTALL_INCLUDEDIR}/heapcast
          COMPONENT development FILES_MATCHING PATTERN *.hpp PATTERN *.def
          PATTERN library EXCLUDE)
endforeach()
install(TARGETS heapcast_engine heapcast_models EXPORT HeapcastTargets
        ARCHIVE COMPONENT development)

set(package_files ${CMAKE_INSTALL_LIBDIR}/cmake/Heapcast)
configure_package_config_file(package/HeapcastConfig.cmake.in generated/HeapcastConfig.cmake
                              INSTALL_DESTINATION ${package_files})
write_basic_package_version_file(
  ${CMAKE_CURRENT_BINARY_DIR}/generated/HeapcastConfigVersion.cmake
  COMPATIBILITY SameMinorVersion)
install(EXPORT HeapcastTargets NAMESPACE Heapcast:: DESTINATION ${package_files}
        COMPONENT development)
install(FILES ${CMAKE_CURRENT_BINARY_DIR}/generated/HeapcastConfig.cmake
              ${CMAKE_CURRENT_BINARY_DIR}/generated/HeapcastConfigVersion.cmake
              package/FindHDF5Serial.cmake package/FindKLU.cmake
        DESTINATION ${package_files} COMPONENT development)
