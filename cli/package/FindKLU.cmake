# SuiteSparse's KLU, which ships no package file in Debian 12: KLU::klu.
find_path(KLU_INCLUDE_DIR suitesparse/klu.h)
find_library(KLU_LIBRARY klu)
mark_as_advanced(KLU_INCLUDE_DIR KLU_LIBRARY)
include(FindPackageHandleStandardArgs)
find_package_handle_standard_args(KLU REQUIRED_VARS KLU_LIBRARY KLU_INCLUDE_DIR)
if(KLU_FOUND AND NOT TARGET KLU::klu)
  add_library(KLU::klu UNKNOWN IMPORTED)
  set_target_properties(KLU::klu PROPERTIES IMPORTED_LOCATION ${KLU_LIBRARY}
                                            INTERFACE_INCLUDE_DIRECTORIES ${KLU_INCLUDE_DIR})
endif()
