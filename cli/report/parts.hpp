#pragma once

#include <string_view>

/// The files a report is put together from, embedded at build time by cli/report/embed.cmake.
namespace heapcast::cli::parts {

extern const std::string_view page_template;    ///< report.html
extern const std::string_view chart_template;   ///< chart.html: one chart with its numbers
extern const std::string_view numbers_template; ///< numbers.html: a table and a link to the CSV
extern const std::string_view style_sheet;      ///< report.css
extern const std::string_view drawing_script;   ///< report.js
extern const std::string_view chart_library;    ///< Chart.js, minified
extern const std::string_view chart_licence;    ///< its licence text

} // namespace heapcast::cli::parts
