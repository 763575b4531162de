#pragma once

#include <memory>
#include <span>
#include <string>
#include <string_view>
#include <vector>

namespace heapcast::cli {

/// A formula over named numbers, for conditions and goals:
///
///     ready_day <= 60 and nitrogen_lost_fraction < 0.2
///     (height > 1.2) or not (moisture >= 0.6)
///     max(width, 2 * height) < 3
///
/// Numbers, names, `+ - * / ^`, `< <= > >= == !=`, `and or not` (or `&& || !`), brackets, and the
/// functions abs, sqrt, exp, ln, log10, min, max. What is compared is 1 when true, else 0. Names
/// are of letters, digits, `_` and `.`; units are not understood: a number is in the unit of what
/// it is compared with.
///
/// A copy may be used on another thread, the same object may not.
class Expression {
public:
  /// Throws UnitError, which says where in the text (column from 1) and offers the nearest name,
  /// when the text is no formula over `names`. A single `=` and `1 < x < 2` are refused: neither
  /// means here what it seems to.
  Expression(std::string_view text, std::span<const std::string> names);
  Expression(const Expression& other);
  Expression& operator=(const Expression& other);
  Expression(Expression&&) noexcept;
  Expression& operator=(Expression&&) noexcept;
  ~Expression();

  [[nodiscard]] const std::string& text() const;
  /// The names that stand in it, in alphabetical order.
  [[nodiscard]] const std::vector<std::string>& names() const;
  /// Its value; `values` belong to `names()`. What is missing (NaN) makes a comparison untrue.
  [[nodiscard]] double value(std::span<const double> values) const;
  /// Whether its value is a number other than 0.
  [[nodiscard]] bool holds(std::span<const double> values) const;

private:
  struct Formula;
  std::unique_ptr<Formula> formula_;
};

} // namespace heapcast::cli
