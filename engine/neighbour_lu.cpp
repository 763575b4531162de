#include "engine/neighbour_lu.hpp"

#include <suitesparse/klu.h>

#include <algorithm>
#include <map>
#include <stdexcept>
#include <vector>

namespace heapcast::engine {

struct NeighbourLu::Impl {
  klu_common common{};
  klu_symbolic* symbolic = nullptr;
  klu_numeric* numeric = nullptr;
  std::vector<int> column_start, row;
  std::vector<double> value;
  std::vector<std::size_t> diagonal_at;
  std::vector<std::size_t> from_b_at, from_a_at; ///< per face; unused on the boundary
  std::vector<std::size_t> inner;

  explicit Impl(const Mesh& mesh) {
    const std::size_t n = mesh.cells();
    std::vector<std::map<int, std::size_t>> columns(n);
    const auto touch = [&](int r, int c) { columns[static_cast<std::size_t>(c)].emplace(r, 0U); };
    for (std::size_t i = 0; i < n; ++i) {
      touch(static_cast<int>(i), static_cast<int>(i));
    }
    for (std::size_t f = 0; f < mesh.faces(); ++f) {
      if (mesh.cell_b[f] >= 0) {
        inner.push_back(f);
        touch(mesh.cell_a[f], mesh.cell_b[f]);
        touch(mesh.cell_b[f], mesh.cell_a[f]);
      }
    }
    column_start.push_back(0);
    for (auto& column : columns) {
      for (auto& [r, at] : column) {
        at = row.size();
        row.push_back(r);
      }
      column_start.push_back(static_cast<int>(row.size()));
    }
    value.assign(row.size(), 0.0);
    const auto find = [&](int r, int c) { return columns[static_cast<std::size_t>(c)].at(r); };
    for (std::size_t i = 0; i < n; ++i) {
      diagonal_at.push_back(find(static_cast<int>(i), static_cast<int>(i)));
    }
    from_b_at.assign(mesh.faces(), 0);
    from_a_at.assign(mesh.faces(), 0);
    for (const std::size_t f : inner) {
      from_b_at[f] = find(mesh.cell_a[f], mesh.cell_b[f]);
      from_a_at[f] = find(mesh.cell_b[f], mesh.cell_a[f]);
    }
    klu_defaults(&common);
    common.scale = 0; // the systems are diagonally dominant: no scaling, no pivot search
    common.tol = 1e-3;
    symbolic = klu_analyze(static_cast<int>(n), column_start.data(), row.data(), &common);
    if (symbolic == nullptr) {
      throw std::logic_error("the neighbour pattern could not be analysed");
    }
  }
  ~Impl() {
    klu_free_numeric(&numeric, &common);
    klu_free_symbolic(&symbolic, &common);
  }
  Impl(const Impl&) = delete;
  Impl& operator=(const Impl&) = delete;
};

NeighbourLu::NeighbourLu(const Mesh& mesh) : impl_(std::make_unique<Impl>(mesh)) {}
NeighbourLu::~NeighbourLu() = default;
NeighbourLu::NeighbourLu(NeighbourLu&&) noexcept = default;
NeighbourLu& NeighbourLu::operator=(NeighbourLu&&) noexcept = default;

bool NeighbourLu::factor(std::span<const double> diagonal, std::span<const double> from_b,
                         std::span<const double> from_a) {
  Impl& m = *impl_;
  for (std::size_t i = 0; i < m.diagonal_at.size(); ++i) {
    m.value[m.diagonal_at[i]] = diagonal[i];
  }
  for (const std::size_t f : m.inner) {
    m.value[m.from_b_at[f]] = from_b[f];
    m.value[m.from_a_at[f]] = from_a[f];
  }
  if (m.numeric == nullptr) {
    m.numeric =
        klu_factor(m.column_start.data(), m.row.data(), m.value.data(), m.symbolic, &m.common);
    return m.numeric != nullptr;
  }
  return klu_refactor(m.column_start.data(), m.row.data(), m.value.data(), m.symbolic, m.numeric,
                      &m.common) == 1 &&
         m.common.status == KLU_OK;
}

void NeighbourLu::solve(std::span<double> x) {
  Impl& m = *impl_;
  klu_solve(m.symbolic, m.numeric, static_cast<int>(x.size()), 1, x.data(), &m.common);
}

} // namespace heapcast::engine
