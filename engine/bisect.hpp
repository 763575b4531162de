#pragma once

#include <functional>

namespace heapcast::engine {

/// A place at which `reached` is true, at most `tolerance` above one at which it is not, between
/// `not_yet`, where it is not, and `already` > `not_yet`, where it is. Both ends are asked again.
[[nodiscard]] double bisect(const std::function<bool(double)>& reached, double not_yet,
                            double already, double tolerance);

} // namespace heapcast::engine
