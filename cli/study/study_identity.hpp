#pragma once

#include "cli/study/study_file.hpp"
#include "engine/results_file.hpp"

#include <string>
#include <string_view>
#include <utility>
#include <vector>

namespace heapcast::cli {

/// What the runs of a study follow from, by name: the texts of its files, the check sum of its
/// weather, options, version.
using StudyIdentity = std::vector<std::pair<std::string, std::string>>;

[[nodiscard]] StudyIdentity identity_of(const Study& study, const std::string& program_version);

/// Of a results file, by its attributes; what is not there is empty.
[[nodiscard]] StudyIdentity identity_of(const engine::Attributes& attributes);

/// Attributes of the results file: the identity, and what else there is to say of a study.
[[nodiscard]] engine::Attributes study_attributes(const Study& study, const StudyIdentity& identity,
                                                  std::size_t runs);

/// In what two studies differ, for people, a line each; empty when in nothing that matters:
/// comments, blanks and the order of keys do not. Of the texts of files the lines that differ.
[[nodiscard]] std::string difference(const StudyIdentity& old_one, const StudyIdentity& new_one);

} // namespace heapcast::cli
