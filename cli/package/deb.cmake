# Two Debian packages, by `cpack --preset deb`: heapcast, for whoever forecasts piles, and
# libheapcast-dev, for programs that use the engine. One for both would bring compilers' files of
# other libraries to a farm that runs a program.
set(CPACK_GENERATOR DEB)
set(CPACK_PACKAGE_NAME heapcast)
# Each package has its own, the first line of its description.
set(CPACK_PACKAGE_DESCRIPTION_SUMMARY "")
set(CPACK_PACKAGE_DIRECTORY ${CMAKE_CURRENT_BINARY_DIR}/packages)
set(CPACK_PROJECT_CONFIG_FILE ${CMAKE_CURRENT_SOURCE_DIR}/cli/package/deb_depends.cmake)
set(CPACK_STRIP_FILES ON)
set(CPACK_VERBATIM_VARIABLES ON)
set(CPACK_COMPONENTS_ALL program development)
set(CPACK_COMPONENTS_GROUPING IGNORE)
set(CPACK_INSTALL_DEFAULT_DIRECTORY_PERMISSIONS
    OWNER_READ OWNER_WRITE OWNER_EXECUTE GROUP_READ GROUP_EXECUTE WORLD_READ WORLD_EXECUTE)

set(CPACK_DEB_COMPONENT_INSTALL ON)
set(CPACK_DEBIAN_FILE_NAME DEB-DEFAULT)
set(CPACK_DEBIAN_PACKAGE_CONTROL_STRICT_PERMISSION ON)
set(CPACK_DEBIAN_PROGRAM_PACKAGE_NAME heapcast)
set(CPACK_DEBIAN_PROGRAM_PACKAGE_SECTION science)
set(CPACK_DEBIAN_PROGRAM_PACKAGE_SHLIBDEPS ON)
set(CPACK_DEBIAN_PROGRAM_DESCRIPTION
"forecast of a compost pile
Heapcast computes heat, moisture, oxygen, carbon and nitrogen through a
compost pile, hour by hour, from what goes in, how it is tended and what the
weather does: how hot the core gets and for how long, when it needs water,
where it runs short of air, what is lost, and when it is ready for its use,
with how sure that is. A forecast is a model's estimate: measure, and follow
local rules.")
set(CPACK_DEBIAN_DEVELOPMENT_PACKAGE_NAME libheapcast-dev)
set(CPACK_DEBIAN_DEVELOPMENT_PACKAGE_SECTION libdevel)
set(CPACK_DEBIAN_DEVELOPMENT_DESCRIPTION
"engine of the forecast of a compost pile (development files)
Headers, static libraries and CMake package of Heapcast, for C++ programs that
run its model of a compost pile themselves: find_package(Heapcast).")
include(CPack)
