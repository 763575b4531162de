#include "engine/lane_solvers.hpp"

#include "engine/lanes.hpp"

#include <suitesparse/klu.h>

#include <algorithm>
#include <array>
#include <deque>
#include <iterator>
#include <map>
#include <mutex>
#include <new>
#include <numeric>
#include <random>
#include <set>
#include <stdexcept>
#include <type_traits>
#include <utility>

namespace heapcast::engine {
namespace {

using Graph = std::vector<std::set<int>>;

Graph neighbours(const Mesh& mesh) {
  Graph graph(mesh.cells());
  for (std::size_t f = 0; f < mesh.faces(); ++f) {
    const int a = mesh.cell_a[f];
    const int b = mesh.cell_b[f];
    if (b < 0) {
      continue;
    }
    if (!graph[static_cast<std::size_t>(a)].insert(b).second) {
      throw std::logic_error("two faces join the same two cells");
    }
    graph[static_cast<std::size_t>(b)].insert(a);
  }
  return graph;
}

/// Approximate minimum degree order of the graph whose cells are renamed: cell i is name[i].
/// Returns the cells in the order of elimination, by their old names.
std::vector<int> minimum_degree(const Graph& graph, const std::vector<int>& name) {
  const std::size_t n = graph.size();
  std::vector<int> cell_of(n);
  for (std::size_t i = 0; i < n; ++i) {
    cell_of[static_cast<std::size_t>(name[i])] = static_cast<int>(i);
  }
  std::vector<int> start{0};
  std::vector<int> row;
  for (std::size_t i = 0; i < n; ++i) {
    const auto cell = static_cast<std::size_t>(cell_of[i]);
    std::vector<int> rows{static_cast<int>(i)};
    for (const int other : graph[cell]) {
      rows.push_back(name[static_cast<std::size_t>(other)]);
    }
    std::sort(rows.begin(), rows.end());
    row.insert(row.end(), rows.begin(), rows.end());
    start.push_back(static_cast<int>(row.size()));
  }
  klu_common common;
  klu_defaults(&common);
  common.ordering = 0; // AMD
  common.btf = 0;
  klu_symbolic* symbolic = klu_analyze(static_cast<int>(n), start.data(), row.data(), &common);
  if (symbolic == nullptr) {
    throw std::logic_error("the neighbour pattern could not be analysed");
  }
  std::vector<int> order(n);
  for (std::size_t k = 0; k < n; ++k) {
    order[k] = cell_of[static_cast<std::size_t>(symbolic->Q[k])];
  }
  klu_free_symbolic(&symbolic, &common);
  return order;
}

/// For each pivot the later pivots that its elimination changes, fill included.
Graph eliminate(const Graph& graph, const std::vector<int>& order) {
  const std::size_t n = graph.size();
  std::vector<int> position(n);
  for (std::size_t k = 0; k < n; ++k) {
    position[static_cast<std::size_t>(order[k])] = static_cast<int>(k);
  }
  Graph below(n);
  for (std::size_t k = 0; k < n; ++k) {
    for (const int other : graph[static_cast<std::size_t>(order[k])]) {
      const int later = position[static_cast<std::size_t>(other)];
      if (later > static_cast<int>(k)) {
        below[k].insert(later);
      }
    }
  }
  // What a pivot changes besides its first successor, that one changes too.
  for (const std::set<int>& column : below) {
    if (!column.empty()) {
      below[static_cast<std::size_t>(*column.begin())].insert(std::next(column.begin()),
                                                              column.end());
    }
  }
  return below;
}

struct Elimination {
  std::vector<int> order;
  Graph below;
  std::size_t products = 0;
};

/// The best of several orders: minimum degree meets many ties, and which of the tied cells goes
/// first depends on how they are named.
Elimination best_elimination(const Graph& graph) {
  constexpr int trials = 16;
  std::vector<int> name(graph.size());
  std::iota(name.begin(), name.end(), 0);
  std::mt19937 random(1); // the same order in every run
  Elimination best;
  for (int trial = 0; trial < trials; ++trial) {
    Elimination next;
    next.order = minimum_degree(graph, name);
    next.below = eliminate(graph, next.order);
    for (const std::set<int>& column : next.below) {
      next.products += column.size() * column.size();
    }
    if (trial == 0 || next.products < best.products) {
      best = std::move(next);
    }
    for (std::size_t i = name.size(); i > 1; --i) {
      std::swap(name[i - 1], name[random() % i]);
    }
  }
  return best;
}

/// `lanes` numbers that are worked on together, in vectors of the compiler of `width` numbers. A
/// width that the instruction set does not have goes through memory and is slow.
template <int lanes, int width> class Pack {
public:
  Pack() = default;
  HEAPCAST_INLINE explicit Pack(const double* data) {
    for (int i = 0; i < parts; ++i) {
      part_[i] = stored(data, i);
    }
  }
  HEAPCAST_INLINE void store(double* data) const {
    for (int i = 0; i < parts; ++i) {
      reinterpret_cast<Stored*>(data)[i] = part_[i];
    }
  }
  HEAPCAST_INLINE void subtract_product(const double* a, const double* b) {
    for (int i = 0; i < parts; ++i) {
      part_[i] -= stored(a, i) * stored(b, i);
    }
  }
  HEAPCAST_INLINE void subtract_product(const double* a, const Pack& b) {
    for (int i = 0; i < parts; ++i) {
      part_[i] -= stored(a, i) * b.part_[i];
    }
  }
  HEAPCAST_INLINE void multiply(const double* a) {
    for (int i = 0; i < parts; ++i) {
      part_[i] *= stored(a, i);
    }
  }
  HEAPCAST_INLINE void multiply(const Pack& a) {
    for (int i = 0; i < parts; ++i) {
      part_[i] *= a.part_[i];
    }
  }
  HEAPCAST_INLINE void invert() {
    for (int i = 0; i < parts; ++i) {
      part_[i] = 1.0 / part_[i];
    }
  }

private:
  static constexpr int parts = lanes / width;
  // NOLINTNEXTLINE(modernize-use-using): g++ takes these attributes on a typedef
  typedef double Part __attribute__((vector_size(width * sizeof(double))));
  // NOLINTNEXTLINE(modernize-use-using): as above
  typedef double Stored
      __attribute__((vector_size(width * sizeof(double)), aligned(alignof(double)), may_alias));

  HEAPCAST_INLINE static const Stored& stored(const double* data, int i) {
    return reinterpret_cast<const Stored*>(data)[i];
  }

  Part part_[parts];
};

template <> class Pack<1, 1> {
public:
  Pack() = default;
  HEAPCAST_INLINE explicit Pack(const double* data) : value_(*data) {}
  HEAPCAST_INLINE void store(double* data) const { *data = value_; }
  HEAPCAST_INLINE void subtract_product(const double* a, const double* b) { value_ -= *a * *b; }
  HEAPCAST_INLINE void subtract_product(const double* a, const Pack& b) { value_ -= *a * b.value_; }
  HEAPCAST_INLINE void multiply(const double* a) { value_ *= *a; }
  HEAPCAST_INLINE void multiply(const Pack& a) { value_ *= a.value_; }
  HEAPCAST_INLINE void invert() { value_ = 1.0 / value_; }

private:
  double value_;
};

/// Doubles in the vectors of this machine, as far as HEAPCAST_VECTORISED knows them.
int vector_width() {
#if HEAPCAST_HAS_VECTOR_MATH
  if (__builtin_cpu_supports("avx512f")) {
    return 8;
  }
  if (__builtin_cpu_supports("avx2")) {
    return 4;
  }
#endif
  return 2;
}

/// run(std::integral_constant of the width) for the width that suits this machine.
template <int lanes, class Run> void with_width(const Run& run) {
  if constexpr (lanes == 1) {
    run(std::integral_constant<int, 1>{});
  } else {
    static const int width = vector_width();
    switch (width) {
    case 8:
      run(std::integral_constant<int, 8>{});
      break;
    case 4:
      run(std::integral_constant<int, 4>{});
      break;
    default:
      run(std::integral_constant<int, 2>{});
      break;
    }
  }
}

alignas(64) constexpr double no_coupling[8] = {};

template <int lanes, int width>
HEAPCAST_VECTORISED void factor_lu(const EliminationPlan& plan, const double* diagonal,
                                   const double* from_b, const double* from_a, double* inverse,
                                   double* factors) {
  using Numbers = Pack<lanes, width>;
  constexpr auto pair = std::ptrdiff_t{2} * lanes;
  const double* const right_of[] = {from_b, from_a, no_coupling};
  const double* const below_of[] = {from_a, from_b, no_coupling};
  const int* own = plan.own.data();
  const EliminationPlan::Entry* entry = plan.entries.data();
  const EliminationPlan::Product* product = plan.products.data();
  double* result = factors;
  for (const EliminationPlan::Pivot& pivot : plan.pivots) {
    Numbers d(diagonal + pivot.cell);
    for (const int* const end = own + pivot.source; own != end; ++own) {
      d.subtract_product(factors + *own, factors + *own + lanes);
    }
    d.invert();
    d.store(inverse);
    inverse += lanes;
    for (const auto* const last = entry + pivot.entries; entry != last; ++entry) {
      Numbers below(below_of[entry->from] + entry->face);
      Numbers right(right_of[entry->from] + entry->face);
      for (const auto* const end = product + entry->products; product != end; ++product) {
        const double* const pivot_row = factors + product->pivot_row;
        const double* const other_row = factors + product->other_row;
        below.subtract_product(other_row, pivot_row + lanes);
        right.subtract_product(pivot_row, other_row + lanes);
      }
      below.multiply(d);
      below.store(result);
      right.store(result + lanes);
      result += pair;
    }
  }
}

template <int lanes, int width>
HEAPCAST_VECTORISED void factor_cholesky(const EliminationPlan& plan, const double* diagonal,
                                         const double* coupling, double* inverse, double* factors) {
  using Numbers = Pack<lanes, width>;
  constexpr auto pair = std::ptrdiff_t{2} * lanes;
  const double* const coupling_of[] = {coupling, coupling, no_coupling};
  const int* own = plan.own.data();
  const EliminationPlan::Entry* entry = plan.entries.data();
  const EliminationPlan::Product* product = plan.products.data();
  double* result = factors;
  for (const EliminationPlan::Pivot& pivot : plan.pivots) {
    Numbers d(diagonal + pivot.cell);
    for (const int* const end = own + pivot.source; own != end; ++own) {
      d.subtract_product(factors + *own, factors + *own + lanes);
    }
    d.invert();
    d.store(inverse);
    inverse += lanes;
    for (const auto* const last = entry + pivot.entries; entry != last; ++entry) {
      Numbers scaled(coupling_of[entry->from] + entry->face);
      for (const auto* const end = product + entry->products; product != end; ++product) {
        scaled.subtract_product(factors + product->pivot_row, factors + product->other_row + lanes);
      }
      scaled.store(result + lanes);
      scaled.multiply(d);
      scaled.store(result);
      result += pair;
    }
  }
}

/// L of unit diagonal: y = L^-1 x for each x of `count`, in place.
template <int lanes, int width, std::size_t count>
HEAPCAST_INLINE inline void solve_lower(const EliminationPlan& plan, const double* factors,
                                        const std::array<double*, count>& x) {
  using Numbers = Pack<lanes, width>;
  constexpr auto pair = std::ptrdiff_t{2} * lanes;
  const EliminationPlan::Entry* entry = plan.entries.data();
  for (const EliminationPlan::Pivot& pivot : plan.pivots) {
    Numbers known[count];
    for (std::size_t j = 0; j < count; ++j) {
      known[j] = Numbers(x[j] + pivot.cell);
    }
    for (const auto* const last = entry + pivot.entries; entry != last; ++entry) {
      for (std::size_t j = 0; j < count; ++j) {
        Numbers other(x[j] + entry->cell);
        other.subtract_product(factors, known[j]);
        other.store(x[j] + entry->cell);
      }
      factors += pair;
    }
  }
}

/// For `count` right-hand sides.
template <int lanes, int width, std::size_t count>
HEAPCAST_VECTORISED void solve_lu(const EliminationPlan& plan, const double* inverse,
                                  const double* factors, const std::array<double*, count> x) {
  using Numbers = Pack<lanes, width>;
  constexpr auto pair = std::ptrdiff_t{2} * lanes;
  solve_lower<lanes, width, count>(plan, factors, x);
  const EliminationPlan::Entry* entry = plan.entries.data() + plan.entries.size();
  const double* upper = factors + pair * std::ssize(plan.entries);
  for (std::size_t k = plan.pivots.size(); k-- > 0;) {
    const EliminationPlan::Pivot& pivot = plan.pivots[k];
    Numbers sum[count];
    for (std::size_t j = 0; j < count; ++j) {
      sum[j] = Numbers(x[j] + pivot.cell);
    }
    for (const auto* const first = entry - pivot.entries; entry != first;) {
      --entry;
      upper -= pair;
      for (std::size_t j = 0; j < count; ++j) {
        sum[j].subtract_product(upper + lanes, x[j] + entry->cell);
      }
    }
    for (std::size_t j = 0; j < count; ++j) {
      sum[j].multiply(inverse + k * lanes);
      sum[j].store(x[j] + pivot.cell);
    }
  }
}

template <int lanes, int width>
HEAPCAST_VECTORISED void solve_cholesky(const EliminationPlan& plan, const double* inverse,
                                        const double* factors, double* x) {
  using Numbers = Pack<lanes, width>;
  constexpr auto pair = std::ptrdiff_t{2} * lanes;
  solve_lower<lanes, width, 1>(plan, factors, {x});
  const std::size_t n = plan.pivots.size();
  const EliminationPlan::Entry* entry = plan.entries.data() + plan.entries.size();
  const double* lower = factors + pair * std::ssize(plan.entries);
  for (std::size_t k = n; k-- > 0;) {
    const EliminationPlan::Pivot& pivot = plan.pivots[k];
    Numbers sum(x + pivot.cell);
    sum.multiply(inverse + k * lanes);
    for (const auto* const first = entry - pivot.entries; entry != first;) {
      --entry;
      lower -= pair;
      sum.subtract_product(lower, x + entry->cell);
    }
    sum.store(x + pivot.cell);
  }
}

} // namespace

EliminationPlan::EliminationPlan(const Mesh& mesh, int lanes) {
  const Elimination elimination = best_elimination(neighbours(mesh));
  const std::vector<int>& order = elimination.order;
  std::map<std::pair<int, int>, std::size_t> face_of; // equation, unknown
  for (std::size_t f = 0; f < mesh.faces(); ++f) {
    if (mesh.cell_b[f] >= 0) {
      face_of[{mesh.cell_a[f], mesh.cell_b[f]}] = f;
    }
  }
  // Per pivot: the earlier pivots that change it, each with the entry through which it does.
  std::vector<std::map<int, int>> row(order.size());
  for (std::size_t k = 0; k < order.size(); ++k) {
    const int cell = order[k];
    const std::set<int>& below = elimination.below[k];
    pivots.push_back(
        {cell * lanes, static_cast<int>(row[k].size()), static_cast<int>(below.size())});
    for (const auto& [earlier, offset] : row[k]) {
      own.push_back(offset);
    }
    for (const int later : below) {
      const int other = order[static_cast<std::size_t>(later)];
      Entry entry{2, 0, 0, other * lanes};
      if (const auto out = face_of.find({cell, other}); out != face_of.end()) {
        entry.from = 0;
        entry.face = static_cast<int>(out->second) * lanes;
      } else if (const auto in = face_of.find({other, cell}); in != face_of.end()) {
        entry.from = 1;
        entry.face = static_cast<int>(in->second) * lanes;
      }
      auto& other_row = row[static_cast<std::size_t>(later)];
      for (const auto& [earlier, offset] : row[k]) {
        if (const auto both = other_row.find(earlier); both != other_row.end()) {
          products.push_back({offset, both->second});
          ++entry.products;
        }
      }
      other_row[static_cast<int>(k)] = 2 * lanes * static_cast<int>(entries.size());
      entries.push_back(entry);
    }
  }
}

std::shared_ptr<const EliminationPlan> elimination_plan(const Mesh& mesh, int lanes) {
  struct Known {
    int lanes;
    std::vector<int> cell_a, cell_b;
    std::shared_ptr<const EliminationPlan> plan;
  };
  constexpr std::size_t most_known = 16;
  static std::mutex lock;
  static std::deque<Known> known; // the last used first
  const std::scoped_lock guard(lock);
  auto found = std::ranges::find_if(known, [&](const Known& k) {
    return k.lanes == lanes && k.plan->pivots.size() == mesh.cells() && k.cell_a == mesh.cell_a &&
           k.cell_b == mesh.cell_b;
  });
  if (found == known.end()) {
    known.push_back(
        {lanes, mesh.cell_a, mesh.cell_b, std::make_shared<EliminationPlan>(mesh, lanes)});
    found = std::prev(known.end());
  }
  std::rotate(known.begin(), found, std::next(found));
  known.resize(std::min(known.size(), most_known));
  return known.front().plan;
}

AlignedArray::AlignedArray(std::size_t size)
    : data_(static_cast<double*>(
          ::operator new (std::max<std::size_t>(size, 1) * sizeof(double), std::align_val_t{64}))) {
  std::fill_n(data_.get(), size, 0.0);
}

void AlignedArray::Free::operator()(double* data) const {
  ::operator delete (data, std::align_val_t{64});
}

template <int lanes>
LaneLu<lanes>::LaneLu(const Mesh& mesh)
    : plan_(elimination_plan(mesh, lanes)), inverse_(plan_->pivots.size() * lanes),
      factors_(plan_->entries.size() * 2 * lanes) {}

template <int lanes>
void LaneLu<lanes>::factor(const double* diagonal, const double* from_b, const double* from_a) {
  with_width<lanes>([&](auto width) {
    factor_lu<lanes, width()>(*plan_, diagonal, from_b, from_a, inverse_.data(), factors_.data());
  });
}

template <int lanes> void LaneLu<lanes>::solve(double* x) const {
  with_width<lanes>([&](auto width) {
    solve_lu<lanes, width(), 1>(*plan_, inverse_.data(), factors_.data(), {x});
  });
}

template <int lanes> void LaneLu<lanes>::solve(double* x, double* y) const {
  with_width<lanes>([&](auto width) {
    solve_lu<lanes, width(), 2>(*plan_, inverse_.data(), factors_.data(), {x, y});
  });
}

template <int lanes>
LaneCholesky<lanes>::LaneCholesky(const Mesh& mesh)
    : plan_(elimination_plan(mesh, lanes)), inverse_(plan_->pivots.size() * lanes),
      factors_(plan_->entries.size() * 2 * lanes) {}

template <int lanes>
void LaneCholesky<lanes>::factor(const double* diagonal, const double* coupling) {
  with_width<lanes>([&](auto width) {
    factor_cholesky<lanes, width()>(*plan_, diagonal, coupling, inverse_.data(), factors_.data());
  });
}

template <int lanes> void LaneCholesky<lanes>::solve(double* x) const {
  with_width<lanes>([&](auto width) {
    solve_cholesky<lanes, width()>(*plan_, inverse_.data(), factors_.data(), x);
  });
}

template class LaneLu<1>;
template class LaneLu<8>;
template class LaneCholesky<1>;
template class LaneCholesky<8>;

} // namespace heapcast::engine
