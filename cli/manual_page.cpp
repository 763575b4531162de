#include "cli/manual_page.hpp"

#include "cli/joined.hpp"
#include "models/cautions.hpp"

#include <algorithm>
#include <cctype>
#include <string_view>
#include <vector>

#include <fmt/format.h>

namespace heapcast::cli {

namespace {

/// `text` so that roff shows it as it stands: signs of its own escaped, no line of it a request.
std::string shown(std::string_view text) {
  std::string result;
  bool line_begins = true;
  for (const char c : text) {
    if (line_begins && (c == '.' || c == '\'')) {
      result += "\\&";
    }
    result += c == '\\' ? std::string("\\e") : c == '-' ? std::string("\\-") : std::string(1, c);
    line_begins = c == '\n';
  }
  return result;
}

std::string bold(std::string_view text) {
  return fmt::format("\\fB{}\\fR", shown(text));
}

std::string slanted(std::string_view text) {
  return fmt::format("\\fI{}\\fR", shown(text));
}

std::string section(std::string name) {
  std::ranges::transform(name, name.begin(),
                         [](unsigned char c) { return static_cast<char>(std::toupper(c)); });
  return fmt::format(".SH {}\n", name);
}

std::string paragraph(std::string_view text) {
  return fmt::format(".PP\n{}\n", shown(text));
}

/// What is said of `head`, which is roff already.
std::string item(const std::string& head, const std::string& what) {
  return fmt::format(".TP\n{}\n{}\n", head, what);
}

std::string unfilled(std::string_view text) {
  return fmt::format(".PP\n.nf\n{}\n.fi\n", shown(text));
}

std::string option_item(const OptionRow& option) {
  std::vector<std::string> names;
  for (const std::string& name : option.names) {
    names.push_back(bold(name));
  }
  std::string head = joined(names, ", ");
  if (!option.value.empty()) {
    head += fmt::format(" {}", slanted(option.value));
  }
  std::string what = shown(option.meaning);
  if (!option.range.empty()) {
    what += fmt::format(" ({})", shown(option.range));
  }
  if (!option.initial.empty()) {
    what += fmt::format("; else {}", shown(option.initial));
  }
  if (option.required) {
    what += "; needed";
  }
  return item(head, what);
}

/// "PILE.toml", "[WORD...]"
std::string argument_use(const OptionRow& argument) {
  std::string name = argument.value.find('.') == std::string::npos && argument.value != "FILE"
                         ? argument.names.front()
                         : argument.value;
  name = slanted(name) + (argument.repeated ? " ..." : "");
  return argument.required ? name : fmt::format("[{}]", name);
}

std::string use_of(const std::string& program, const CommandRow& command) {
  std::string use = fmt::format("{} [{}]", bold(program + " " + command.name), slanted("OPTIONS"));
  for (const OptionRow& argument : command.arguments) {
    use += fmt::format(" {}", argument_use(argument));
  }
  return use;
}

/// Paragraphs of a help's end: those that show commands and those that say something.
std::string footer_text(std::string_view footer) {
  std::string text;
  while (!footer.empty()) {
    const auto end = std::min(footer.find("\n\n"), footer.size());
    const std::string_view part = footer.substr(0, end);
    text += part.starts_with("Example") ? unfilled(part) : paragraph(part);
    footer.remove_prefix(std::min(end + 2, footer.size()));
  }
  return text;
}

struct Entry {
  std::string_view name;
  std::string_view meaning;
};

constexpr Entry files[] = {
    {"PILE.toml", "What goes into the pile, its shape, how it is tended, the site and its weather. "
                  "TOML; every quantity with its unit, metric or US customary."},
    {"STUDY.toml", "A study: a pile file, what differs between its runs, and a design."},
    {"FILE.h5", "Results: every number, curve and picture with its unit. HDF5 and netCDF-4 with CF "
                "attributes."},
    {"FILE.h5.journal", "What a study has computed so far. With it the study goes on where it was "
                        "left; it is deleted when the results are complete."},
    {"FILE.html", "A report that any browser opens, without a network."},
    {"/usr/share/doc/heapcast/examples",
     "Pile files to copy and start from, on Debian; elsewhere in the folder for documentation "
     "below where the program was installed. The piles are invented."},
};

} // namespace

std::string manual_page(const CommandTable& table) {
  std::string heading = table.program;
  std::ranges::transform(heading, heading.begin(),
                         [](unsigned char c) { return static_cast<char>(std::toupper(c)); });
  std::string text = fmt::format(".TH {} 1 \"\" \"{} {}\" \"User Commands\"\n", heading,
                                 table.program, table.version);
  text += ".nh\n.ad l\n";

  std::string purpose = table.meaning;
  if (purpose.ends_with('.')) {
    purpose.pop_back();
  }
  purpose.front() = static_cast<char>(std::tolower(static_cast<unsigned char>(purpose.front())));
  text += section("name") + fmt::format("{} \\- {}\n", shown(table.program), shown(purpose));

  text += section("synopsis");
  bool first = true;
  for (const CommandRow& command : table.commands) {
    text += fmt::format("{}{}\n", first ? "" : ".br\n", use_of(table.program, command));
    first = false;
  }

  text += section("description") +
          shown("Computes heat, moisture, oxygen, carbon and nitrogen through a compost pile, hour "
                "by hour, from what goes in, how it is tended and what the weather does: how hot "
                "the core gets and for how long, when it needs water, where it runs short of air, "
                "what is lost, and when it is ready for its use, with how sure that is.") +
          "\n";
  text += section("options");
  for (const OptionRow& option : table.options) {
    text += option_item(option);
  }

  text += section("commands");
  for (const CommandRow& command : table.commands) {
    text += fmt::format(".SS {}\n{}\n", use_of(table.program, command), shown(command.meaning));
    for (const OptionRow& argument : command.arguments) {
      text += item(argument_use(argument), shown(argument.meaning));
    }
    for (const OptionRow& option : command.options) {
      text += option_item(option);
    }
    text += footer_text(command.footer);
  }

  text += section("exit status");
  for (const ExitCodeRow& row : table.exit_codes) {
    text += item(bold(std::to_string(row.code)), shown(row.meaning));
  }
  text += section("files");
  for (const Entry& file : files) {
    text += item(slanted(file.name), shown(file.meaning));
  }
  text += section("examples") +
          shown("Start from an example, look for mistakes, run it, look at the report:") + "\n" +
          unfilled("cp -r /usr/share/doc/heapcast/examples .\n"
                   "cd examples/01_market_garden_windrow\n"
                   "heapcast check pile.toml\n"
                   "heapcast forecast pile.toml --report pile.html\n"
                   "heapcast forecast pile.toml --runs 100");
  text += section("cautions") +
          shown("A forecast is a model's estimate from what it was told. Measure, and follow local "
                "rules and licensed practice; where they differ from a forecast, they are right.") +
          "\n";
  for (const models::Caution& caution : models::cautions({})) {
    text += item(bold(caution.title), shown(caution.advice));
  }
  return text;
}

} // namespace heapcast::cli
