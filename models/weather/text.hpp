#pragma once

#include <optional>
#include <span>
#include <string>
#include <string_view>
#include <vector>

namespace heapcast::models {

[[nodiscard]] std::string_view trimmed(std::string_view text); ///< without blanks at the ends
[[nodiscard]] std::string lower_case(std::string_view text);   ///< ASCII letters only

/// The pieces of `text` between separators; one empty piece for empty text.
[[nodiscard]] std::vector<std::string_view> pieces(std::string_view text, char separator);

/// The fields of one CSV line (RFC 4180 without line breaks inside fields), trimmed. A field may be
/// quoted; "" inside quotes is a quote. Nothing when a quote is not closed.
[[nodiscard]] std::optional<std::vector<std::string>> split_csv_line(std::string_view line,
                                                                     char separator);

/// The number that is all of `text` ("12.5", "+3", "1e-3"), which may be infinite or NaN; nothing
/// when it is not one.
[[nodiscard]] std::optional<double> parse_number(std::string_view text);

/// `text` for a message: at most 40 characters, everything but printable ASCII as '?'.
[[nodiscard]] std::string shown(std::string_view text);

/// "a, b, c"; after the first 20 an ellipsis.
[[nodiscard]] std::string listed(std::span<const std::string> words);

} // namespace heapcast::models
