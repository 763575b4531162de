#include "engine/potential_flow.hpp"

#include "engine/errors.hpp"

#include <Eigen/SparseCholesky>
#include <Eigen/SparseCore>

#include <algorithm>
#include <cmath>
#include <limits>
#include <vector>

namespace heapcast::engine {

struct PotentialFlow::Impl {
  const std::vector<int> cell_a, cell_b;
  Eigen::SparseMatrix<double> matrix;
  Eigen::SimplicialLLT<Eigen::SparseMatrix<double>> factor;
  std::vector<double*> diagonal;                         ///< per cell
  std::vector<std::pair<double*, double*>> off_diagonal; ///< per face; null on the boundary
  Eigen::VectorXd rhs, p, residual, direction, z, image;
  bool have_factor = false;

  explicit Impl(const Mesh& mesh) : cell_a(mesh.cell_a), cell_b(mesh.cell_b) {
    const auto n = static_cast<Eigen::Index>(mesh.cells());
    std::vector<Eigen::Triplet<double>> entries;
    for (Eigen::Index i = 0; i < n; ++i) {
      entries.emplace_back(i, i, 1.0);
    }
    for (std::size_t f = 0; f < cell_a.size(); ++f) {
      if (cell_b[f] >= 0) {
        entries.emplace_back(cell_a[f], cell_b[f], 0.0);
        entries.emplace_back(cell_b[f], cell_a[f], 0.0);
      }
    }
    matrix.resize(n, n);
    matrix.setFromTriplets(entries.begin(), entries.end());
    matrix.makeCompressed();
    factor.analyzePattern(matrix);
    for (Eigen::Index i = 0; i < n; ++i) {
      diagonal.push_back(&matrix.coeffRef(i, i));
    }
    for (std::size_t f = 0; f < cell_a.size(); ++f) {
      off_diagonal.emplace_back(cell_b[f] >= 0 ? &matrix.coeffRef(cell_a[f], cell_b[f]) : nullptr,
                                cell_b[f] >= 0 ? &matrix.coeffRef(cell_b[f], cell_a[f]) : nullptr);
    }
    for (auto* v : {&rhs, &p, &residual, &direction, &z, &image}) {
      v->setZero(n);
    }
  }

  void assemble(std::span<const double> g, std::span<const double> drive,
                std::span<const double> source) {
    double* values = matrix.valuePtr();
    std::fill(values, values + matrix.nonZeros(), 0.0);
    rhs = Eigen::Map<const Eigen::VectorXd>(source.data(), rhs.size());
    double largest = 0.0;
    for (std::size_t f = 0; f < cell_a.size(); ++f) {
      const auto a = static_cast<std::size_t>(cell_a[f]);
      *diagonal[a] += g[f];
      rhs[cell_a[f]] -= g[f] * drive[f];
      largest = std::max(largest, g[f]);
      if (cell_b[f] >= 0) {
        *diagonal[static_cast<std::size_t>(cell_b[f])] += g[f];
        rhs[cell_b[f]] += g[f] * drive[f];
        *off_diagonal[f].first = -g[f];
        *off_diagonal[f].second = -g[f];
      }
    }
    // A body sealed on all sides fixes the potential only up to a constant.
    const double grounding = largest > 0.0 ? 1e-12 * largest : 1.0;
    for (double* d : diagonal) {
      *d += grounding;
    }
  }

  void refactor() {
    factor.factorize(matrix);
    if (factor.info() != Eigen::Success) {
      throw NumericsError("the flow system is not positive definite");
    }
    have_factor = true;
  }

  /// Conjugate gradients from the last potential; false when `most` iterations did not suffice.
  bool iterate(int most, double tolerance2) {
    residual = rhs - matrix * p;
    double rr = residual.squaredNorm();
    if (rr <= tolerance2) {
      return true;
    }
    double rz_old = 0.0;
    for (int k = 0; k < most; ++k) {
      z = factor.solve(residual);
      const double rz = residual.dot(z);
      direction = k == 0 ? z : Eigen::VectorXd(z + (rz / rz_old) * direction);
      rz_old = rz;
      image.noalias() = matrix * direction;
      const double alpha = rz / direction.dot(image);
      p += alpha * direction;
      residual -= alpha * image;
      rr = residual.squaredNorm();
      if (rr <= tolerance2) {
        return true;
      }
    }
    return false;
  }
};

PotentialFlow::PotentialFlow(const Mesh& mesh) : impl_(std::make_unique<Impl>(mesh)) {}
PotentialFlow::~PotentialFlow() = default;
PotentialFlow::PotentialFlow(PotentialFlow&&) noexcept = default;
PotentialFlow& PotentialFlow::operator=(PotentialFlow&&) noexcept = default;

void PotentialFlow::solve(std::span<const double> conductance, std::span<const double> drive,
                          std::span<const double> source, std::span<double> flux) {
  Impl& m = *impl_;
  m.assemble(conductance, drive, source);
  const double norm2 = m.rhs.squaredNorm();
  if (!std::isfinite(norm2) || !std::isfinite(m.matrix.coeffs().sum())) {
    // A trial state gone wrong: it is the caller's to turn it down.
    std::fill(flux.begin(), flux.end(), std::numeric_limits<double>::quiet_NaN());
    return;
  }
  if (norm2 == 0.0) {
    m.p.setZero();
  } else {
    const double tolerance2 = 1e-20 * norm2;
    if (!m.p.allFinite()) {
      m.p.setZero();
    }
    if (!m.have_factor || !m.iterate(3, tolerance2)) {
      m.refactor();
      if (!m.iterate(8, tolerance2) && !(m.residual.squaredNorm() <= 1e-12 * norm2)) {
        throw NumericsError("the flow system did not converge");
      }
    }
  }
  for (std::size_t f = 0; f < m.cell_a.size(); ++f) {
    const double p_b = m.cell_b[f] >= 0 ? m.p[m.cell_b[f]] : 0.0;
    flux[f] = conductance[f] * (m.p[m.cell_a[f]] - p_b + drive[f]);
  }
}

} // namespace heapcast::engine
