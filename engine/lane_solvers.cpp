#include "engine/lane_solvers.hpp"

#include "engine/lanes.hpp"

#include <suitesparse/klu.h>

#include <algorithm>
#include <iterator>
#include <map>
#include <new>
#include <numeric>
#include <random>
#include <set>
#include <stdexcept>
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
  constexpr int trials = 24;
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

/// `lanes` numbers that are worked on together. A vector of the compiler: it becomes one AVX-512
/// register, two of AVX or four of SSE2. One lane is a plain number.
template <int lanes> struct Vector {
  // NOLINTNEXTLINE(modernize-use-using): g++ takes these attributes on a typedef
  typedef double Pack __attribute__((vector_size(lanes * sizeof(double))));
  // NOLINTNEXTLINE(modernize-use-using): as above
  typedef double Stored
      __attribute__((vector_size(lanes * sizeof(double)), aligned(alignof(double)), may_alias));
};
template <> struct Vector<1> {
  using Pack = double;
  using Stored = double;
};

template <int lanes>
HEAPCAST_INLINE inline const typename Vector<lanes>::Stored& at(const double* data) {
  return *reinterpret_cast<const typename Vector<lanes>::Stored*>(data);
}
template <int lanes> HEAPCAST_INLINE inline typename Vector<lanes>::Stored& at(double* data) {
  return *reinterpret_cast<typename Vector<lanes>::Stored*>(data);
}

alignas(64) constexpr double no_coupling[8] = {};

template <int lanes>
HEAPCAST_VECTORISED void factor_lu(const EliminationPlan& plan, const double* diagonal,
                                   const double* from_b, const double* from_a, double* inverse,
                                   double* factors) {
  using Pack = typename Vector<lanes>::Pack;
  const double* const right_of[] = {from_b, from_a, no_coupling};
  const double* const below_of[] = {from_a, from_b, no_coupling};
  const int* own = plan.own.data();
  const EliminationPlan::Entry* entry = plan.entries.data();
  const EliminationPlan::Product* product = plan.products.data();
  double* result = factors;
  for (const EliminationPlan::Pivot& pivot : plan.pivots) {
    Pack d = at<lanes>(diagonal + pivot.cell);
    for (const int* const end = own + pivot.source; own != end; ++own) {
      d -= at<lanes>(factors + *own) * at<lanes>(factors + *own + lanes);
    }
    const Pack one_over_d = 1.0 / d;
    at<lanes>(inverse) = one_over_d;
    inverse += lanes;
    for (const auto* const last = entry + pivot.entries; entry != last; ++entry) {
      Pack below = at<lanes>(below_of[entry->from] + entry->face);
      Pack right = at<lanes>(right_of[entry->from] + entry->face);
      for (const auto* const end = product + entry->products; product != end; ++product) {
        const double* const pivot_row = factors + product->pivot_row;
        const double* const other_row = factors + product->other_row;
        below -= at<lanes>(other_row) * at<lanes>(pivot_row + lanes);
        right -= at<lanes>(pivot_row) * at<lanes>(other_row + lanes);
      }
      at<lanes>(result) = below * one_over_d;
      at<lanes>(result + lanes) = right;
      result += 2 * lanes;
    }
  }
}

template <int lanes>
HEAPCAST_VECTORISED void factor_cholesky(const EliminationPlan& plan, const double* diagonal,
                                         const double* coupling, double* inverse, double* factors) {
  using Pack = typename Vector<lanes>::Pack;
  const double* const coupling_of[] = {coupling, coupling, no_coupling};
  const int* own = plan.own.data();
  const EliminationPlan::Entry* entry = plan.entries.data();
  const EliminationPlan::Product* product = plan.products.data();
  double* result = factors;
  for (const EliminationPlan::Pivot& pivot : plan.pivots) {
    Pack d = at<lanes>(diagonal + pivot.cell);
    for (const int* const end = own + pivot.source; own != end; ++own) {
      d -= at<lanes>(factors + *own) * at<lanes>(factors + *own + lanes);
    }
    const Pack one_over_d = 1.0 / d;
    at<lanes>(inverse) = one_over_d;
    inverse += lanes;
    for (const auto* const last = entry + pivot.entries; entry != last; ++entry) {
      Pack scaled = at<lanes>(coupling_of[entry->from] + entry->face);
      for (const auto* const end = product + entry->products; product != end; ++product) {
        scaled -= at<lanes>(factors + product->pivot_row) *
                  at<lanes>(factors + product->other_row + lanes);
      }
      at<lanes>(result) = scaled * one_over_d;
      at<lanes>(result + lanes) = scaled;
      result += 2 * lanes;
    }
  }
}

/// L of unit diagonal: y = L^-1 x, for the unknowns in `x` themselves.
template <int lanes>
HEAPCAST_INLINE inline void solve_lower(const EliminationPlan& plan, const double* factors,
                                        double* x) {
  using Pack = typename Vector<lanes>::Pack;
  const EliminationPlan::Entry* entry = plan.entries.data();
  for (const EliminationPlan::Pivot& pivot : plan.pivots) {
    const Pack known = at<lanes>(x + pivot.cell);
    for (const auto* const last = entry + pivot.entries; entry != last; ++entry) {
      at<lanes>(x + entry->cell) -= at<lanes>(factors) * known;
      factors += 2 * lanes;
    }
  }
}

template <int lanes>
HEAPCAST_VECTORISED void solve_lu(const EliminationPlan& plan, const double* inverse,
                                  const double* factors, double* x) {
  using Pack = typename Vector<lanes>::Pack;
  solve_lower<lanes>(plan, factors, x);
  const std::size_t n = plan.pivots.size();
  const EliminationPlan::Entry* entry = plan.entries.data() + plan.entries.size();
  const double* upper = factors + 2 * lanes * plan.entries.size();
  for (std::size_t k = n; k-- > 0;) {
    const EliminationPlan::Pivot& pivot = plan.pivots[k];
    Pack sum = at<lanes>(x + pivot.cell);
    for (const auto* const first = entry - pivot.entries; entry != first;) {
      --entry;
      upper -= 2 * lanes;
      sum -= at<lanes>(upper + lanes) * at<lanes>(x + entry->cell);
    }
    at<lanes>(x + pivot.cell) = sum * at<lanes>(inverse + k * lanes);
  }
}

template <int lanes>
HEAPCAST_VECTORISED void solve_cholesky(const EliminationPlan& plan, const double* inverse,
                                        const double* factors, double* x) {
  using Pack = typename Vector<lanes>::Pack;
  solve_lower<lanes>(plan, factors, x);
  const std::size_t n = plan.pivots.size();
  const EliminationPlan::Entry* entry = plan.entries.data() + plan.entries.size();
  const double* lower = factors + 2 * lanes * plan.entries.size();
  for (std::size_t k = n; k-- > 0;) {
    const EliminationPlan::Pivot& pivot = plan.pivots[k];
    Pack sum = at<lanes>(x + pivot.cell) * at<lanes>(inverse + k * lanes);
    for (const auto* const first = entry - pivot.entries; entry != first;) {
      --entry;
      lower -= 2 * lanes;
      sum -= at<lanes>(lower) * at<lanes>(x + entry->cell);
    }
    at<lanes>(x + pivot.cell) = sum;
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
    : plan_(mesh, lanes), inverse_(plan_.pivots.size() * lanes),
      factors_(plan_.entries.size() * 2 * lanes) {}

template <int lanes>
void LaneLu<lanes>::factor(const double* diagonal, const double* from_b, const double* from_a) {
  factor_lu<lanes>(plan_, diagonal, from_b, from_a, inverse_.data(), factors_.data());
}

template <int lanes> void LaneLu<lanes>::solve(double* x) const {
  solve_lu<lanes>(plan_, inverse_.data(), factors_.data(), x);
}

template <int lanes>
LaneCholesky<lanes>::LaneCholesky(const Mesh& mesh)
    : plan_(mesh, lanes), inverse_(plan_.pivots.size() * lanes),
      factors_(plan_.entries.size() * 2 * lanes) {}

template <int lanes>
void LaneCholesky<lanes>::factor(const double* diagonal, const double* coupling) {
  factor_cholesky<lanes>(plan_, diagonal, coupling, inverse_.data(), factors_.data());
}

template <int lanes> void LaneCholesky<lanes>::solve(double* x) const {
  solve_cholesky<lanes>(plan_, inverse_.data(), factors_.data(), x);
}

template class LaneLu<1>;
template class LaneLu<8>;
template class LaneCholesky<1>;
template class LaneCholesky<8>;

} // namespace heapcast::engine
