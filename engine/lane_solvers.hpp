#pragma once

#include "engine/mesh.hpp"

#include <cstddef>
#include <memory>
#include <vector>

namespace heapcast::engine {

/// What the elimination of a matrix that couples each cell with itself and its neighbours does, in
/// the order in which it does it. Unknowns are eliminated in an order of small fill (AMD of
/// SuiteSparse). Numbers called offsets are indices into arrays of [item][lane].
struct EliminationPlan {
  /// Below the pivot and right of it the pattern is the same: one entry stands for both.
  struct Pivot {
    int cell;    ///< offset of the cell
    int source;  ///< products of entries that change the pivot, see `own`
    int entries; ///< number of rows below it that it changes
  };
  struct Entry {
    int from;     ///< 0: the other cell is cell_b of `face`, 1: cell_a, 2: no face, starts at zero
    int face;     ///< offset of the face; 0 where there is none
    int products; ///< number of pairs in `products` that change it
    int cell;     ///< offset of the other cell, whose pivot comes later
  };
  /// Entry of the pivot's row times entry of the other's row, in an earlier pivot's column.
  struct Product {
    int pivot_row, other_row; ///< offsets in an array of two values an entry
  };

  std::vector<Pivot> pivots;
  std::vector<Entry> entries;    ///< those of the first pivot, of the second, ...
  std::vector<int> own;          ///< entries of the pivot's own row, offset as in Product
  std::vector<Product> products; ///< those of the first entry, of the second, ...

  EliminationPlan(const Mesh& mesh, int lanes);
};

/// The plan for meshes with the faces of this one, made once for many: to find a good order takes
/// as long as a thousand solves. For all threads. Throws as LaneLu does.
[[nodiscard]] std::shared_ptr<const EliminationPlan> elimination_plan(const Mesh& mesh, int lanes);

/// Array of doubles that starts at a multiple of 64 bytes.
class AlignedArray {
public:
  explicit AlignedArray(std::size_t size);
  [[nodiscard]] double* data() { return data_.get(); }
  [[nodiscard]] const double* data() const { return data_.get(); }

private:
  struct Free {
    void operator()(double* data) const;
  };
  std::unique_ptr<double[], Free> data_;
};

/// LU factors of `lanes` matrices of one mesh at once, each of which couples every cell with itself
/// and its neighbours; their values lie side by side, [cell][lane] and [face][lane].
///
/// There is no search for pivots: the matrices must be diagonally dominant or otherwise safe to
/// eliminate in any order. A pivot of zero makes the solution of its lane infinite or NaN, in some
/// or all cells. What a lane holds never changes the result of another, not in one bit. Nothing is
/// allocated after construction. Arrays that start at a multiple of 64 bytes are the fastest.
/// `factor` is not for several threads, `solve` is.
template <int lanes> class LaneLu {
public:
  /// Throws std::logic_error when two faces join the same two cells.
  explicit LaneLu(const Mesh& mesh);
  /// from_b[f] couples the equation of cell_a[f] to cell_b[f], from_a[f] the other way; boundary
  /// entries are not read.
  void factor(const double* diagonal, const double* from_b, const double* from_a);
  /// Replaces `x`, the right-hand sides, by the solutions. Needs a factor.
  void solve(double* x) const;
  /// Two at once: less than twice the time.
  void solve(double* x, double* y) const;

private:
  std::shared_ptr<const EliminationPlan> plan_;
  AlignedArray inverse_; ///< of the pivots
  AlignedArray factors_; ///< per entry: below the pivot (L, of unit diagonal), right of it (U)
};

/// As LaneLu, for symmetric positive definite matrices: L D L^T in half the work.
template <int lanes> class LaneCholesky {
public:
  explicit LaneCholesky(const Mesh& mesh);
  /// coupling[f] couples the two cells of face f; boundary entries are not read.
  void factor(const double* diagonal, const double* coupling);
  void solve(double* x) const;

private:
  std::shared_ptr<const EliminationPlan> plan_;
  AlignedArray inverse_; ///< of D
  AlignedArray factors_; ///< per entry: L, of unit diagonal, and L D
};

extern template class LaneLu<1>;
extern template class LaneLu<8>;
extern template class LaneCholesky<1>;
extern template class LaneCholesky<8>;

} // namespace heapcast::engine
