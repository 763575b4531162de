#include "engine/sampling.hpp"

#include "engine/counter_random.hpp"

#include <algorithm>
#include <cassert>
#include <limits>
#include <memory>
#include <numeric>
#include <stdexcept>
#include <utility>

#include <boost/random/sobol.hpp>

namespace heapcast::engine {

namespace {

/// Streams of the random numbers of one design, so that they do not meet.
enum Stream : std::uint64_t { permuting, placing, shifting, morris_base, morris_order, morris_way };

/// 0..size - 1 in an order in which all are equally likely. `key.counter` must leave `size` - 1
/// counters free from its own on.
template <class Index> std::vector<Index> shuffled(std::size_t size, RandomKey key) {
  std::vector<Index> order(size);
  std::iota(order.begin(), order.end(), Index{0});
  for (std::size_t left = size; left > 1; --left, ++key.counter) {
    std::swap(order[left - 1], order[level_at(random_share(key), left)]);
  }
  return order;
}

/// Points of Sobol's sequence by index.
class SobolPoints {
public:
  SobolPoints(std::size_t dimension, std::uint64_t seed) : engine_(dimension) {
    for (std::size_t j = 0; j < dimension; ++j) {
      shifts_.push_back(random_bits({seed, shifting, j}));
    }
  }

  [[nodiscard]] std::vector<double> at(std::size_t index) const {
    std::vector<double> point;
    point.reserve(shifts_.size());
    boost::random::sobol engine = engine_;
    if (index > 0) {
      engine.seed(index - 1); // Boost's begins with the second point
    }
    for (const std::uint64_t shift : shifts_) {
      const std::uint64_t bits = (index > 0 ? engine() : 0U) ^ shift;
      // The middle of one of 2^52 steps: above 0 and below 1 in double precision.
      point.push_back((static_cast<double>(bits >> 12U) + 0.5) * 0x1p-52);
    }
    return point;
  }

private:
  boost::random::sobol engine_;
  std::vector<std::uint64_t> shifts_;
};

} // namespace

std::size_t level_at(double coordinate, std::size_t levels) {
  const auto level = static_cast<std::size_t>(coordinate * static_cast<double>(levels));
  return std::min(level, levels - 1);
}

double middle_of_level(std::size_t level, std::size_t levels) {
  return (static_cast<double>(level) + 0.5) / static_cast<double>(levels);
}

Design full_grid(std::vector<std::size_t> levels) {
  constexpr double most = 0x1p53;
  double count = 1.0;
  for (const std::size_t of_factor : levels) {
    assert(of_factor > 0);
    count *= static_cast<double>(of_factor);
  }
  if (count > most) {
    throw std::length_error("a grid of more than 2^53 points");
  }
  const std::size_t dimension = levels.size();
  return {static_cast<std::size_t>(count), dimension,
          [levels = std::move(levels)](std::size_t index) {
            std::vector<double> point(levels.size());
            for (std::size_t j = levels.size(); j-- > 0;) {
              point[j] = middle_of_level(index % levels[j], levels[j]);
              index /= levels[j];
            }
            return point;
          }};
}

Design one_at_a_time(std::vector<std::size_t> levels, std::vector<std::size_t> base) {
  assert(levels.size() == base.size());
  std::size_t size = 1;
  for (const std::size_t of_factor : levels) {
    size += of_factor - 1;
  }
  const std::size_t dimension = levels.size();
  return {size, dimension, [levels = std::move(levels), base = std::move(base)](std::size_t index) {
            std::vector<double> point;
            for (std::size_t j = 0; j < levels.size(); ++j) {
              point.push_back(middle_of_level(base[j], levels[j]));
            }
            if (index == 0) {
              return point;
            }
            std::size_t other = index - 1;
            for (std::size_t j = 0; j < levels.size(); ++j) {
              if (other < levels[j] - 1) {
                point[j] = middle_of_level(other < base[j] ? other : other + 1, levels[j]);
                break;
              }
              other -= levels[j] - 1;
            }
            return point;
          }};
}

Design latin_hypercube(std::size_t size, std::size_t dimension, std::uint64_t seed) {
  if (size > std::numeric_limits<std::uint32_t>::max()) {
    throw std::length_error("a Latin hypercube of 2^32 points or more");
  }
  auto parts = std::make_shared<std::vector<std::vector<std::uint32_t>>>();
  for (std::size_t j = 0; j < dimension; ++j) {
    parts->push_back(shuffled<std::uint32_t>(size, {seed, permuting, j << 32U}));
  }
  return {size, dimension, [parts = std::move(parts), size, seed](std::size_t index) {
            std::vector<double> point;
            for (std::size_t j = 0; j < parts->size(); ++j) {
              const double place = random_share({seed, placing, (j << 32U) + index});
              point.push_back((static_cast<double>((*parts)[j][index]) + place) /
                              static_cast<double>(size));
            }
            return point;
          }};
}

Design sobol_sequence(std::size_t size, std::size_t dimension, std::uint64_t seed) {
  if (dimension == 0 || dimension > most_sobol_factors) {
    throw std::length_error("no Sobol' sequence of so many factors");
  }
  return {size, dimension,
          [points = SobolPoints(dimension, seed)](std::size_t index) { return points.at(index); }};
}

Design saltelli_design(std::size_t blocks, std::size_t dimension, std::uint64_t seed) {
  Design pairs = sobol_sequence(blocks, 2 * dimension, seed);
  const std::size_t block = dimension + 2;
  return {blocks * block, dimension, [pairs = std::move(pairs), block](std::size_t index) {
            const std::size_t dimensions = block - 2;
            const std::vector<double> pair = pairs.point(index / block);
            const auto half = pair.begin() + static_cast<std::ptrdiff_t>(dimensions);
            const std::size_t place = index % block;
            if (place == 1) {
              return std::vector<double>(half, pair.end());
            }
            std::vector<double> point(pair.begin(), half);
            if (place > 1) {
              point[place - 2] = pair[dimensions + place - 2];
            }
            return point;
          }};
}

Design morris_design(std::size_t trajectories, std::size_t dimension, std::size_t levels,
                     std::uint64_t seed) {
  if (levels < 2 || levels % 2 != 0) {
    throw std::invalid_argument("a Morris design needs an even number of levels");
  }
  const std::size_t points = dimension + 1;
  return {
      trajectories * points, dimension, [points, levels, seed](std::size_t index) {
        const std::size_t dimensions = points - 1;
        const std::size_t first = (index / points) * dimensions;
        std::size_t steps = index % points;
        std::vector<double> point;
        for (std::size_t j = 0; j < dimensions; ++j) {
          const double base = random_share({seed, morris_base, first + j});
          const bool down = random_bits({seed, morris_way, first + j}) >> 63U != 0;
          point.push_back(middle_of_level(level_at(base, levels / 2), levels) +
                          (down ? morris_step : 0.0));
        }
        for (const std::size_t j : shuffled<std::size_t>(dimensions, {seed, morris_order, first})) {
          if (steps-- == 0) {
            break;
          }
          point[j] += point[j] > morris_step ? -morris_step : morris_step;
        }
        return point;
      }};
}

} // namespace heapcast::engine
