# HDF5 with its high-level part: HDF5Serial::hl. The serial build by name: with both builds
# installed plain "hdf5" means the MPI one.
find_package(PkgConfig QUIET)
if(PkgConfig_FOUND)
  pkg_check_modules(HDF5Serial QUIET IMPORTED_TARGET hdf5-serial)
endif()
# Dimension scales; the high-level part has no pkg-config file of its own.
find_library(HDF5Serial_HL hdf5_hl HINTS ${HDF5Serial_LIBRARY_DIRS} NO_DEFAULT_PATH)
mark_as_advanced(HDF5Serial_HL)
include(FindPackageHandleStandardArgs)
find_package_handle_standard_args(HDF5Serial REQUIRED_VARS HDF5Serial_HL HDF5Serial_LIBRARY_DIRS
                                  VERSION_VAR HDF5Serial_VERSION)
if(HDF5Serial_FOUND AND NOT TARGET HDF5Serial::hl)
  add_library(HDF5Serial::hl INTERFACE IMPORTED)
  set_target_properties(HDF5Serial::hl PROPERTIES
    INTERFACE_LINK_LIBRARIES "${HDF5Serial_HL};PkgConfig::HDF5Serial")
endif()
