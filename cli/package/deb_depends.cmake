# Read by cpack: libheapcast-dev depends on the packages that own what its static library links to.
set(owners)
foreach(file IN LISTS CPACK_HEAPCAST_LINKED_FILES)
  execute_process(COMMAND dpkg-query -S ${file} OUTPUT_VARIABLE owner
                  COMMAND_ERROR_IS_FATAL ANY)
  string(REGEX REPLACE "[:,].*" "" owner ${owner})
  list(APPEND owners ${owner})
endforeach()
list(REMOVE_DUPLICATES owners)
list(JOIN owners ", " CPACK_DEBIAN_DEVELOPMENT_PACKAGE_DEPENDS)
