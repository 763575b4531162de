#pragma once

#include "models/materials/material.hpp"

namespace heapcast::models {

/// The material cut to another length: it lies denser and its pores are finer,
///
///   bulk density ~ (supplied/cut)^0.12    flow size ~ (cut/supplied)^0.5
///
/// (judgement: tall stems cut from 120 to 5 cm lie half again as dense and let air through like
/// chopped grass). Composition stays.
/// \param cut_m characteristic particle length, above 0; longer than supplied changes nothing but
///              the length.
[[nodiscard]] Material chopped(const Material& material, double cut_m);

} // namespace heapcast::models
