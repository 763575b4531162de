# What `cmake --install` puts where. Two components: `program`, for whoever forecasts piles, and
# `development`, for programs that use the engine.
include(GNUInstallDirs)
include(CMakePackageConfigHelpers)
set(CPACK_PACKAGE_CONTACT "Heapcast project <heapcast@heapcast.invalid>")
set(docdir ${CMAKE_INSTALL_DATADIR}/doc/heapcast)

install(TARGETS heapcast COMPONENT program)

# Manual page and completions are made by the program, from the table by which it parses.
set(made ${CMAKE_CURRENT_BINARY_DIR}/generated/package)
string(TIMESTAMP build_date "%a, %d %b %Y 00:00:00 +0000" UTC)
configure_file(cli/package/changelog.in ${made}/changelog @ONLY)
find_file(HEAPCAST_CLI11_HEADER CLI/CLI.hpp)
find_file(HEAPCAST_EIGEN_HEADER Eigen/Core PATH_SUFFIXES eigen3)
find_file(HEAPCAST_JSON_HEADER nlohmann/json.hpp)
mark_as_advanced(HEAPCAST_CLI11_HEADER HEAPCAST_EIGEN_HEADER HEAPCAST_JSON_HEADER)
add_custom_command(
  TARGET heapcast POST_BUILD
  COMMAND heapcast --man-page > ${made}/heapcast.1
  COMMAND gzip -9nkf ${made}/heapcast.1 ${made}/changelog
  COMMAND heapcast --completion bash > ${made}/heapcast
  COMMAND heapcast --completion zsh > ${made}/_heapcast
  COMMAND ${CMAKE_COMMAND} -DOUTPUT=${made}/copyright -DVERSION=${PROJECT_VERSION}
          "-DPARTS=CLI11=${HEAPCAST_CLI11_HEADER};Eigen=${HEAPCAST_EIGEN_HEADER};JSON for Modern C++=${HEAPCAST_JSON_HEADER};Chart.js=${HEAPCAST_CHART_LIBRARY}"
          -P ${CMAKE_CURRENT_SOURCE_DIR}/cli/package/copyright.cmake
  COMMENT "Writing manual page, completions and licences"
  VERBATIM)
install(FILES ${made}/heapcast.1.gz DESTINATION ${CMAKE_INSTALL_MANDIR}/man1
        COMPONENT program)
install(FILES ${made}/heapcast
        DESTINATION ${CMAKE_INSTALL_DATADIR}/bash-completion/completions COMPONENT program)
# Debian's zsh looks below /usr in another folder than below /usr/local.
install(CODE "
  set(folder site-functions)
  if(CMAKE_INSTALL_PREFIX MATCHES \"/usr$\" AND EXISTS /etc/debian_version)
    set(folder vendor-completions)
  endif()
  file(INSTALL TYPE FILE FILES \"${made}/_heapcast\"
       DESTINATION \"\${CMAKE_INSTALL_PREFIX}/${CMAKE_INSTALL_DATADIR}/zsh/\${folder}\")
" COMPONENT program)

install(FILES README.md ${made}/copyright ${made}/changelog.gz DESTINATION ${docdir}
        COMPONENT program)
install(DIRECTORY examples DESTINATION ${docdir} COMPONENT program PATTERN run.sh EXCLUDE)
# In no Debian package: Debian has one copy for all of them.
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

set(cmake_files ${CMAKE_INSTALL_LIBDIR}/cmake/Heapcast)
configure_package_config_file(cli/package/HeapcastConfig.cmake.in generated/HeapcastConfig.cmake
                              INSTALL_DESTINATION ${cmake_files})
write_basic_package_version_file(
  ${CMAKE_CURRENT_BINARY_DIR}/generated/HeapcastConfigVersion.cmake
  COMPATIBILITY SameMinorVersion)
install(EXPORT HeapcastTargets NAMESPACE Heapcast:: DESTINATION ${cmake_files}
        COMPONENT development)
install(FILES ${CMAKE_CURRENT_BINARY_DIR}/generated/HeapcastConfig.cmake
              ${CMAKE_CURRENT_BINARY_DIR}/generated/HeapcastConfigVersion.cmake
              cli/package/FindHDF5Serial.cmake cli/package/FindKLU.cmake
        DESTINATION ${cmake_files} COMPONENT development)
install(FILES ${made}/copyright ${made}/changelog.gz
        DESTINATION ${CMAKE_INSTALL_DATADIR}/doc/libheapcast-dev COMPONENT development)
set(CPACK_HEAPCAST_LINKED_FILES ${fmt_DIR} ${HDF5Serial_HL} ${KLU_LIBRARY} ${PKG_CONFIG_EXECUTABLE})

include(cli/package/deb.cmake)
