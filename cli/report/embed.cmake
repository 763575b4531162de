# Turns the report's parts and the charting library into one generated source file. Included from
# CMakeLists.txt it declares how; run as a script (cmake -P) it does it. The library is taken from
# the system's package and embedded at build time, licence and all: a report needs nothing else.
if(NOT CMAKE_SCRIPT_MODE_FILE)
  set(report_help "install the Debian packages libjs-chart.js and libkainjow-mustache-dev")
  find_file(HEAPCAST_CHART_LIBRARY chart.min.js
            PATHS /usr/share/javascript/chart.js /usr/share/nodejs/chart.js/dist NO_DEFAULT_PATH
            DOC "Chart.js 3, one minified file")
  find_file(HEAPCAST_CHART_LICENCE copyright PATHS /usr/share/doc/libjs-chart.js NO_DEFAULT_PATH
            DOC "licence text of that file")
  find_path(HEAPCAST_MUSTACHE_INCLUDE kainjow/mustache.hpp DOC "kainjow mustache, header only")
  foreach(needed HEAPCAST_CHART_LIBRARY HEAPCAST_CHART_LICENCE HEAPCAST_MUSTACHE_INCLUDE)
    if(NOT ${needed})
      message(FATAL_ERROR "${needed} not found: ${report_help}, or set ${needed}")
    endif()
  endforeach()

  set(report_parts_source ${CMAKE_CURRENT_BINARY_DIR}/generated/report_parts.cpp)
  set_source_files_properties(${report_parts_source} PROPERTIES SKIP_UNITY_BUILD_INCLUSION ON)
  set(report_parts
      page_template=${CMAKE_CURRENT_LIST_DIR}/report.html
      chart_template=${CMAKE_CURRENT_LIST_DIR}/chart.html
      numbers_template=${CMAKE_CURRENT_LIST_DIR}/numbers.html
      style_sheet=${CMAKE_CURRENT_LIST_DIR}/report.css
      drawing_script=${CMAKE_CURRENT_LIST_DIR}/report.js
      chart_library=${HEAPCAST_CHART_LIBRARY}
      chart_licence=${HEAPCAST_CHART_LICENCE})
  list(TRANSFORM report_parts REPLACE "^[^=]*=" "" OUTPUT_VARIABLE report_files)
  add_custom_command(
    OUTPUT ${report_parts_source}
    COMMAND ${CMAKE_COMMAND} "-DPARTS=${report_parts}" -DOUTPUT=${report_parts_source}
            -P ${CMAKE_CURRENT_LIST_FILE}
    DEPENDS ${report_files} ${CMAKE_CURRENT_LIST_FILE}
    COMMENT "Embedding the report's parts" VERBATIM)
  return()
endif()

# The standard asks compilers for 65536 characters in a literal; those in use take more.
set(text "#include \"cli/report/parts.hpp\"
#pragma GCC diagnostic ignored \"-Woverlength-strings\"
namespace heapcast::cli::parts {\n")
foreach(part IN LISTS PARTS)
  string(REGEX MATCH "^([^=]*)=(.*)$" _ "${part}")
  set(name ${CMAKE_MATCH_1})
  file(READ "${CMAKE_MATCH_2}" content)
  string(APPEND text "const std::string_view ${name} = R\"~~part~~(${content})~~part~~\";\n")
endforeach()
file(WRITE "${OUTPUT}" "${text}} // namespace heapcast::cli::parts\n")
