#pragma once

#include "engine/results_file.hpp"

#include <cstddef>
#include <string>

namespace heapcast::test {

/// An invented results file with curves of a plausible shape and every name the report knows: a
/// parabolic half section, turned every week. Several runs differ by how warm they get. Not a
/// forecast: no number in it was computed by the model.
[[nodiscard]] engine::Dataset synthetic_results(std::size_t days = 60, std::size_t runs = 1);

/// Takes a variable out.
void remove_variable(engine::Dataset& data, const std::string& name);

/// Sets a root attribute.
void set_attribute(engine::Dataset& data, const std::string& name, engine::AttributeValue value);

} // namespace heapcast::test
