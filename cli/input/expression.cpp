#include "cli/input/expression.hpp"

#include "cli/input/units.hpp"
#include "cli/joined.hpp"
#include "engine/nearest.hpp"

#include <algorithm>
#include <array>
#include <cassert>
#include <cmath>
#include <cstddef>
#include <functional>
#include <utility>

#include <fmt/format.h>
#include <muParser.h>

namespace heapcast::cli {

bool is_true(double value) {
  return value != 0.0 && !std::isnan(value);
}

namespace {

constexpr std::string_view formula_example = "ready_day <= 60 and peak_temperature > 55";
/// Deep nesting would run the parser out of its stack.
constexpr std::size_t most_characters = 2000;
constexpr int deepest = 50;

constexpr std::string_view letters = "abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ_";
constexpr std::string_view name_characters =
    "abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ_0123456789.";
constexpr std::array<std::string_view, 7> functions = {"abs",   "sqrt", "exp", "ln",
                                                       "log10", "min",  "max"};

[[noreturn]] void refuse(std::string_view text, std::size_t at, const std::string& what,
                         const std::string& remedy) {
  throw UnitError(fmt::format("\"{}\", at character {}: {}", text, at + 1, what), remedy);
}

std::string for_example() {
  return fmt::format("write for example \"{}\"", formula_example);
}

/// A piece of the text.
struct Token {
  enum class Kind { number, name, comparison, junction, bracket, other } kind;
  std::size_t at;
  std::string_view text;
};

std::size_t number_length(std::string_view rest) {
  const auto digits_from = [&](std::size_t at) {
    const auto end = rest.find_first_not_of("0123456789", at);
    return end == std::string_view::npos ? rest.size() : end;
  };
  std::size_t end = digits_from(0);
  if (end < rest.size() && rest[end] == '.') {
    end = digits_from(end + 1);
  }
  if (end < rest.size() && (rest[end] == 'e' || rest[end] == 'E')) {
    const std::size_t sign =
        end + 1 < rest.size() && (rest[end + 1] == '-' || rest[end + 1] == '+');
    if (const std::size_t exponent = digits_from(end + 1 + sign); exponent > end + 1 + sign) {
      end = exponent;
    }
  }
  return end;
}

Token token_at(std::string_view text, std::size_t at) {
  using enum Token::Kind;
  const std::string_view rest = text.substr(at);
  const auto is = [&](std::string_view what) { return rest.starts_with(what); };
  if (letters.find(rest.front()) != std::string_view::npos) {
    const std::string_view word = rest.substr(0, rest.find_first_not_of(name_characters));
    const bool joins = word == "and" || word == "or";
    return {joins ? junction : word == "not" ? other : name, at, word};
  }
  if (rest.find_first_of("0123456789.") == 0) {
    return {number, at, rest.substr(0, std::max<std::size_t>(number_length(rest), 1))};
  }
  for (const std::string_view sign : {"<=", ">=", "==", "!=", "<", ">"}) {
    if (is(sign)) {
      return {comparison, at, rest.substr(0, sign.size())};
    }
  }
  for (const std::string_view sign : {"&&", "||"}) {
    if (is(sign)) {
      return {junction, at, rest.substr(0, sign.size())};
    }
  }
  if (is("(") || is(")")) {
    return {bracket, at, rest.substr(0, 1)};
  }
  if (rest.find_first_of("+-*/^!,") == 0) {
    return {other, at, rest.substr(0, 1)};
  }
  if (is("=")) {
    refuse(text, at, "\"=\" compares nothing", "write == for equal, or <=, >=");
  }
  if (is("%")) {
    refuse(text, at, "a formula has no units",
           "write the bare number in the unit of what it is compared with, e.g. 0.6 or 60");
  }
  if (static_cast<unsigned char>(rest.front()) >= 0x80U) {
    refuse(text, at, "a character that no formula has", for_example());
  }
  refuse(text, at, fmt::format("\"{}\" stands in no formula", rest.front()), for_example());
}

std::vector<Token> tokens_of(std::string_view text) {
  std::vector<Token> tokens;
  for (std::size_t at = 0;
       (at = text.find_first_not_of(" \t\r\n", at)) != std::string_view::npos;) {
    tokens.push_back(token_at(text, at));
    at += tokens.back().text.size();
  }
  return tokens;
}

void check_name(std::string_view text, const Token& token, bool called,
                std::span<const std::string> names) {
  if (called) {
    if (std::ranges::find(functions, token.text) == functions.end()) {
      refuse(text, token.at, fmt::format("\"{}\" is no function", token.text),
             fmt::format("there are {}", joined(functions)));
    }
    return;
  }
  if (std::ranges::find(names, token.text) != names.end()) {
    return;
  }
  const std::string near = engine::nearest(token.text, names);
  // Short lists are shown whole.
  constexpr std::size_t shown_whole = 12;
  refuse(text, token.at, fmt::format("there is no \"{}\" here", token.text),
         !near.empty()                 ? fmt::format("did you mean \"{}\"?", near)
         : names.size() <= shown_whole ? fmt::format("there are {}", joined(names))
                                       : for_example());
}

/// What muParser would take and mean otherwise, or say in words of its own.
void check(std::string_view text, std::span<const std::string> names) {
  if (text.size() > most_characters) {
    throw UnitError(
        fmt::format("a formula of {} characters is longer than {}", text.size(), most_characters),
        "make it shorter");
  }
  const std::vector<Token> tokens = tokens_of(text);
  if (tokens.empty()) {
    throw UnitError("a formula without anything in it", for_example());
  }
  std::vector<std::size_t> comparisons{0}; // by open bracket, since the last and, or, comma
  for (std::size_t i = 0; i < tokens.size(); ++i) {
    const Token& token = tokens[i];
    const bool before_bracket = i + 1 < tokens.size() && tokens[i + 1].text == "(";
    switch (token.kind) {
    case Token::Kind::name:
      if (i > 0 && tokens[i - 1].kind == Token::Kind::number) {
        refuse(text, token.at, fmt::format("\"{}\" behind a number", token.text),
               "a formula has no units: write the bare number in the unit of what it is compared "
               "with, and * where you mean times");
      }
      check_name(text, token, before_bracket, names);
      break;
    case Token::Kind::comparison:
      if (++comparisons.back() > 1) {
        refuse(text, token.at, "two comparisons in a row", "write them apart: \"1 < x and x < 2\"");
      }
      break;
    case Token::Kind::junction:
      comparisons.back() = 0;
      break;
    case Token::Kind::bracket:
      if (token.text == "(") {
        comparisons.push_back(0);
      } else if (comparisons.size() > 1) {
        comparisons.pop_back();
      } else {
        refuse(text, token.at, "\")\" closes nothing", "take it out, or write the \"(\" it closes");
      }
      if (comparisons.size() > deepest) {
        refuse(text, token.at, "too many brackets in each other", "make it simpler");
      }
      break;
    case Token::Kind::other:
      if (token.text == ",") {
        comparisons.back() = 0;
      }
      break;
    case Token::Kind::number:
      break;
    }
  }
  if (comparisons.size() > 1) {
    refuse(text, text.size(), "a \"(\" is not closed", "write the \")\"");
  }
}

double both(double a, double b) {
  return is_true(a) && is_true(b) ? 1.0 : 0.0;
}

double either(double a, double b) {
  return is_true(a) || is_true(b) ? 1.0 : 0.0;
}

double negated(double a) {
  return is_true(a) ? 0.0 : 1.0;
}

/// NaN when one of them is.
template <class Before> double first_by(const double* values, int count, Before before) {
  double found = values[0];
  for (int i = 1; i < count; ++i) {
    found = std::isnan(values[i]) || before(values[i], found) ? values[i] : found;
  }
  return found;
}

/// The text with and, or, not as the signs that the parser is given, each of the same length.
std::string with_signs(std::string_view text) {
  std::string signs(text);
  for (const Token& token : tokens_of(text)) {
    const auto put = [&](char sign) {
      signs.replace(token.at, token.text.size(), token.text.size(), ' ');
      signs[token.at] = sign;
    };
    if (token.text == "and" || token.text == "&&") {
      put('&');
    } else if (token.text == "or" || token.text == "||") {
      put('|');
    } else if (token.text == "not") {
      put('!');
    }
  }
  return signs;
}

/// The library's arithmetic and comparisons; what is true, and the functions, are our own.
mu::Parser empty_parser() {
  mu::Parser parser;
  parser.DefineNameChars(name_characters.data());
  parser.DefineOprt("&", both, mu::prLAND);
  parser.DefineOprt("|", either, mu::prLOR);
  // Weaker than a comparison: not a < b is not (a < b).
  parser.DefineInfixOprt("!", negated, mu::prCMP - 1);
  parser.ClearFun();
  parser.ClearConst();
  parser.DefineFun(
      "abs", +[](double x) { return std::abs(x); });
  parser.DefineFun(
      "sqrt", +[](double x) { return std::sqrt(x); });
  parser.DefineFun(
      "exp", +[](double x) { return std::exp(x); });
  parser.DefineFun(
      "ln", +[](double x) { return std::log(x); });
  parser.DefineFun(
      "log10", +[](double x) { return std::log10(x); });
  parser.DefineFun(
      "min",
      +[](const double* values, int count) { return first_by(values, count, std::less<>()); });
  parser.DefineFun(
      "max",
      +[](const double* values, int count) { return first_by(values, count, std::greater<>()); });
  return parser;
}

std::string in_words(const mu::ParserError& error) {
  switch (error.GetCode()) {
  case mu::ecUNEXPECTED_EOF:
    return "it ends where a value is needed";
  case mu::ecTOO_FEW_PARAMS:
  case mu::ecTOO_MANY_PARAMS:
    return fmt::format("\"{}\" takes another number of values", error.GetToken());
  default:
    return error.GetToken().empty() ? std::string("it cannot be read")
                                    : fmt::format("\"{}\" is not expected here", error.GetToken());
  }
}

} // namespace

struct Expression::Formula {
  std::string text;
  std::vector<std::string> names;
  std::vector<double> values; ///< what the parser reads, by name
  mu::Parser parser = empty_parser();

  explicit Formula(std::string_view written) : text(written) {
    for (const Token& token : tokens_of(text)) {
      if (token.kind == Token::Kind::name &&
          std::ranges::find(functions, token.text) == functions.end()) {
        names.emplace_back(token.text);
      }
    }
    std::ranges::sort(names);
    names.erase(std::unique(names.begin(), names.end()), names.end());
    values.assign(names.size(), 1.0);
    try {
      for (std::size_t i = 0; i < names.size(); ++i) {
        parser.DefineVar(names[i], &values[i]);
      }
      parser.SetExpr(with_signs(text));
      [[maybe_unused]] const double parsed = parser.Eval();
    } catch (const mu::ParserError& error) {
      refuse(text, std::min(static_cast<std::size_t>(std::max(error.GetPos(), 0)), text.size()),
             in_words(error), for_example());
    }
    if (parser.GetNumResults() != 1) {
      refuse(text, 0, "several formulas with commas between them", "join them with and");
    }
  }
};

Expression::Expression(std::string_view text, std::span<const std::string> names) {
  check(text, names);
  formula_ = std::make_unique<Formula>(text);
}

Expression::Expression(const Expression& other)
    : formula_(std::make_unique<Formula>(other.formula_->text)) {}
Expression& Expression::operator=(const Expression& other) {
  if (this != &other) {
    formula_ = std::make_unique<Formula>(other.formula_->text);
  }
  return *this;
}
Expression::Expression(Expression&&) noexcept = default;
Expression& Expression::operator=(Expression&&) noexcept = default;
Expression::~Expression() = default;

const std::string& Expression::text() const {
  return formula_->text;
}

const std::vector<std::string>& Expression::names() const {
  return formula_->names;
}

double Expression::value(std::span<const double> values) const {
  assert(values.size() == formula_->values.size());
  std::ranges::copy(values, formula_->values.begin());
  return formula_->parser.Eval();
}

bool Expression::holds(std::span<const double> values) const {
  return is_true(value(values));
}

} // namespace heapcast::cli
