#include "models/parameters.hpp"

#include "engine/errors.hpp"

#include <fmt/format.h>

namespace heapcast::models {

namespace {

constexpr std::array<ParameterRow, parameter_count> parameter_rows = {{
#define HEAPCAST_PARAMETER(name, symbol, unit, si_factor, value, low, high, prior, status, source, \
                           meaning)                                                                \
  {#name, symbol, unit, si_factor, value, low, high, Prior::prior, status, source, meaning},
#include "models/parameters.def"
#undef HEAPCAST_PARAMETER
}};

constexpr std::array<ParameterCorrelation, 6> correlations = {{
    {Parameter::fast_rate, Parameter::medium_rate, 0.5, "judgement",
     "both come from the same uptake curves, and what lets microbes at one pool lets them at the "
     "other"},
    {Parameter::medium_rate, Parameter::slow_rate, 0.3, "judgement",
     "neighbours on one scale from sugar to lignin: where the border is drawn moves both"},
    {Parameter::temperature_opt, Parameter::temperature_max, 0.5, "judgement",
     "microbes that work best in more heat also bear more"},
    {Parameter::contois, Parameter::biomass_start_scale, 0.5, "judgement",
     "a lag that is seen fixes their ratio: more microbes at the start go with a larger half-speed "
     "constant"},
    {Parameter::biomass_yield, Parameter::decay_rate, 0.4, "judgement",
     "only net growth is seen: more growth goes with more decay"},
    {Parameter::flow_size_scale, Parameter::settling_scale, -0.5, "judgement",
     "what settles more has closer pores"},
}};

} // namespace

std::span<const ParameterRow> parameter_table() {
  return parameter_rows;
}

std::span<const ParameterCorrelation> parameter_correlations() {
  return correlations;
}

std::size_t find_parameter(std::string_view name) {
  for (std::size_t i = 0; i < parameter_rows.size(); ++i) {
    if (parameter_rows[i].name == name) {
      return i;
    }
  }
  return parameter_count;
}

ParameterSet::ParameterSet() {
  for (std::size_t i = 0; i < parameter_count; ++i) {
    values_[i] = parameter_rows[i].value;
  }
}

double ParameterSet::si(Parameter p) const {
  return (*this)[p] * parameter_rows[static_cast<std::size_t>(p)].si_factor;
}

void ParameterSet::set(std::size_t index, double value) {
  const ParameterRow& row = parameter_rows.at(index);
  if (!(value >= row.low && value <= row.high)) {
    throw InputError(
        fmt::format("parameter {}", row.name),
        fmt::format("{} {} is outside {} to {} {}", value, row.unit, row.low, row.high, row.unit),
        "write a value inside the range; `heapcast parameters` lists them");
  }
  values_[index] = value;
}

} // namespace heapcast::models
