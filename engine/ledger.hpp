#pragma once

#include <algorithm>
#include <cmath>

namespace heapcast::engine {

/// Balance of one conserved quantity: what was there, what came in, what went out, what is there.
class Balance {
public:
  Balance() = default;
  explicit Balance(double stock) : first_stock_(stock) {}

  void in(double amount) { in_ += amount; }
  void out(double amount) { out_ += amount; }

  /// |in - out - (stock - first stock)| over the throughput; the flows of the running integration
  /// are passed beside those booked. Throughput: the first stock plus everything that came in, also
  /// as a negative outflow.
  [[nodiscard]] double residual(double stock, double more_in = 0.0, double more_out = 0.0) const {
    const double in = in_ + more_in;
    const double out = out_ + more_out;
    const double throughput =
        std::max(std::abs(first_stock_) + std::abs(in) + std::max(-out, 0.0), 1e-300);
    return std::abs(in - out - (stock - first_stock_)) / throughput;
  }

private:
  double first_stock_ = 0.0;
  double in_ = 0.0;
  double out_ = 0.0;
};

} // namespace heapcast::engine
