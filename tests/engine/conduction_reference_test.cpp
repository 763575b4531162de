// Conduction and reaction in slabs and long cylinders made of containers, integrated by the
// integrator or solved by NeighbourLu, against the closed forms of conduction_transport.csv.
//
// A container whose wall and ground are closed is half a slab; one whose top and ground are closed
// is a piece of a long cylinder. Length 1 is the half thickness or the radius, diffusivity 1, so
// that time is the Fourier number and the film's coefficient the Biot number.

#include "engine/errors.hpp"
#include "engine/neighbour_lu.hpp"
#include "tests/engine/diffusion_system.hpp"
#include "tests/reference_csv.hpp"

#include <gtest/gtest.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <cstdio>
#include <map>
#include <numbers>
#include <string>
#include <utility>
#include <vector>

namespace heapcast::engine {
namespace {

using tests::conductances;
using tests::CsvTable;
using tests::DiffusionSystem;
using tests::expect_row;
using tests::Films;
using tests::held_at_zero;
using tests::reference_row;
using tests::ReferenceRow;
using tests::within;

constexpr double pi = std::numbers::pi;

/// A body of unit half thickness or radius in `cells` cells, with one film on its curved or open
/// side.
class Body {
public:
  Body(bool cylinder, int cells, double film)
      : cylinder_(cylinder),
        mesh_(make_container({.fill_height_m = 1.0, .plan_area_m2 = pi, .perimeter_m = 2.0 * pi},
                             cylinder ? cells : 1, cylinder ? 1 : cells)),
        film_(film), films_(cylinder ? Films{.wall = film} : Films{.surface = film}) {}

  [[nodiscard]] const Mesh& mesh() const { return mesh_; }
  [[nodiscard]] std::vector<double> conductance() const { return conductances(mesh_, 1.0, films_); }

  /// Value at the middle: the parabola, level there, through the two innermost cells.
  [[nodiscard]] double centre(const std::vector<double>& y) const {
    const double a = position(0) * position(0);
    const double b = position(1) * position(1);
    return (y[0] * b - y[1] * a) / (b - a);
  }
  /// Value on the outside: what the outermost half cell and the film pass on is the same.
  [[nodiscard]] double surface(const std::vector<double>& y) const {
    for (std::size_t f = 0; f < mesh_.faces(); ++f) {
      if (mesh_.kind[f] == (cylinder_ ? FaceKind::wall : FaceKind::surface)) {
        const double inside = mesh_.transmissibility_m(f, {});
        return inside * y[static_cast<std::size_t>(mesh_.cell_a[f])] /
               (inside + film_ * mesh_.area_m2(f, {}));
      }
    }
    return std::nan("");
  }
  /// Extent of the thickest cell, across the layers or rings.
  [[nodiscard]] double thickest_cell() const {
    double largest = 0.0;
    for (std::size_t i = 0; i < mesh_.cells(); ++i) {
      const auto& xs = cylinder_ ? mesh_.outline_x_m[i] : mesh_.outline_z_m[i];
      const auto [low, high] = std::minmax_element(xs.begin(), xs.end());
      largest = std::max(largest, *high - *low);
    }
    return largest;
  }

private:
  [[nodiscard]] double position(std::size_t i) const {
    return cylinder_ ? mesh_.x_m[i] : mesh_.z_m[i];
  }

  bool cylinder_;
  Mesh mesh_;
  double film_;
  Films films_;
};

struct Values {
  double centre, surface;
};

/// Excess over the surroundings at the given Fourier numbers, from 1 everywhere at 0.
std::vector<Values> cool(const Body& body, const std::vector<double>& times) {
  // Errors of 1e-9 a step and some thousand steps, most of which the diffusion forgets: the error
  // in time stays below 1e-6, the rounding of the published values.
  DiffusionSystem system(body.mesh(), body.conductance(), {}, 1e-9);
  Integrator integrator(system,
                        {.first_step_s = 1e-6, .largest_step_s = 0.1, .smallest_step_s = 1e-14});
  std::vector<double> y(body.mesh().cells() + 1, 1.0);
  std::vector<Values> values;
  double t = 0.0;
  for (const double end : times) {
    integrator.advance(y, t, end);
    t = end;
    values.push_back({body.centre(y), body.surface(y)});
  }
  return values;
}

/// A number computed on three meshes, each with half the spacing of the one before.
struct Refined {
  std::array<double, 3> value{};

  /// What second order makes of the two finer meshes.
  [[nodiscard]] double extrapolated() const { return (4.0 * value[2] - value[1]) / 3.0; }
};

using CellCounts = std::array<int, 3>;
constexpr CellCounts cell_counts = {20, 40, 80};
constexpr CellCounts fine_cell_counts = {160, 320, 640}; // for steady values, and to 1e-6

/// For reports: the error in the test's results file.
void record(const std::string& what, int cells, double error) {
  std::array<char, 32> text{};
  std::snprintf(text.data(), text.size(), "%.6e", error);
  testing::Test::RecordProperty(what + " " + std::to_string(cells), std::string(text.data()));
}

/// Errors of many numbers on the three meshes.
class Errors {
public:
  void add(const Refined& number, double truth) {
    for (std::size_t k = 0; k < 3; ++k) {
      const double e = number.value[k] - truth;
      square_[k] += e * e;
    }
    ++count_;
  }
  /// Observed order from mesh k to the next, of the root mean square.
  [[nodiscard]] double order(std::size_t k) const {
    return 0.5 * std::log2(square_[k] / square_[k + 1]);
  }
  void print(const char* what, const CellCounts& cells = cell_counts) const {
    std::printf("%s: %d numbers, rms error %.2e %.2e %.2e on %d %d %d cells, order %.2f %.2f\n",
                what, count_, rms(0), rms(1), rms(2), cells[0], cells[1], cells[2], order(0),
                order(1));
    for (std::size_t k = 0; k < 3; ++k) {
      record(what, cells.at(k), rms(k));
    }
  }

private:
  [[nodiscard]] double rms(std::size_t k) const { return std::sqrt(square_[k] / count_); }
  std::array<double, 3> square_{};
  int count_ = 0;
};

/// The part of `id` after `prefix`, up to the next underscore or the end, as a number.
double number_after(const std::string& id, const std::string& prefix) {
  return std::stod(id.substr(prefix.size()));
}

bool starts_with(const std::string& text, const std::string& prefix) {
  return text.rfind(prefix, 0) == 0;
}

/// Checks all th_ rows of one body. Their value is a share of the first excess, so the rows' 1e-5
/// is a bound on it; own_tolerance takes it as a share of the value, which is tighter, and still
/// holds.
void check_cooling(bool cylinder) {
  const std::string prefix = cylinder ? "th_cyl_" : "th_slab_";
  const CsvTable table("conduction_transport.csv");
  std::map<double, std::vector<ReferenceRow>> rows_by_film;
  for (std::size_t i = 0; i < table.size(); ++i) {
    if (starts_with(table.field(i, "id"), prefix)) {
      const ReferenceRow row = reference_row(table, i);
      rows_by_film[number_after(row.id, prefix)].push_back(row);
    }
  }
  const std::vector<double> times = {0.1, 0.2, 0.5, 1.0};
  Errors errors;
  int rows = 0;
  for (const auto& [film, film_rows] : rows_by_film) {
    std::array<std::vector<Values>, 3> values;
    std::array<double, 3> thickest{};
    for (std::size_t k = 0; k < 3; ++k) {
      const Body body(cylinder, cell_counts[k], film);
      values[k] = cool(body, times);
      thickest[k] = body.thickest_cell();
    }
    for (const ReferenceRow& row : film_rows) {
      const std::string rest = row.id.substr(row.id.find('_', prefix.size()) + 1);
      const double time = std::stod(rest);
      const bool at_centre = rest.find("centre") != std::string::npos;
      const auto found = std::find(times.begin(), times.end(), time);
      ASSERT_NE(found, times.end()) << row.id << ": no such time is computed";
      const auto at = static_cast<std::size_t>(found - times.begin());
      Refined number;
      for (std::size_t k = 0; k < 3; ++k) {
        number.value[k] = at_centre ? values[k][at].centre : values[k][at].surface;
        // On cells of thickness h the first mode, of eigenvalue z, decays at z² (1 - z² h²/12)
        // instead of z²; the share C1 exp(-z² t) is then wrong by at most C1 z² h²/(12 e), at
        // t = 1/z². In the rows z² is at most 4.75 and C1 1.57 (eig_cyl_10, C1_cyl_10): 0.23 h².
        EXPECT_NEAR(number.value[k], row.value, 0.25 * thickest[k] * thickest[k])
            << row.id << " on " << cell_counts[k] << " cells";
      }
      expect_row(row, number.extrapolated());
      errors.add(number, row.value);
      ++rows;
    }
  }
  errors.print(cylinder ? "cooling long cylinder" : "cooling slab");
  EXPECT_GT(rows, 20);
  // The next term of the error, and on the finest mesh that in time, are a few percent.
  EXPECT_NEAR(errors.order(0), 2.0, 0.1);
  EXPECT_NEAR(errors.order(1), 2.0, 0.1);
}

TEST(ConductionReference, CoolingSlabMeetsEveryRowAndIsOfSecondOrder) {
  check_cooling(false);
}

TEST(ConductionReference, CoolingCylinderMeetsEveryRowAndIsOfSecondOrder) {
  check_cooling(true);
}

/// Decay and amplitude of what is left when all modes but the first are gone.
struct FirstMode {
  double eigenvalue, amplitude;
};

FirstMode first_mode(const Body& body) {
  // At Fo = 1 the second mode is below exp(-9) of the first in amplitude and times its C2, in the
  // hundreds, below 1e-6.
  const auto values = cool(body, {1.0, 1.5});
  const double square = std::log(values[0].centre / values[1].centre) / 0.5;
  return {std::sqrt(square), values[0].centre * std::exp(square)};
}

TEST(ConductionReference, FirstEigenvaluesAndCoefficientsMeetTheirRows) {
  const CsvTable table("conduction_transport.csv");
  int rows = 0;
  for (const bool cylinder : {false, true}) {
    std::map<double, std::array<FirstMode, 3>> modes;
    Errors errors;
    for (std::size_t i = 0; i < table.size(); ++i) {
      const ReferenceRow row = reference_row(table, i);
      const std::string body = cylinder ? "cyl_" : "slab_";
      const bool eigenvalue = starts_with(row.id, "eig_" + body);
      if (!eigenvalue && !starts_with(row.id, "C1_" + body)) {
        continue;
      }
      const double film = number_after(row.id, (eigenvalue ? "eig_" : "C1_") + body);
      if (modes.find(film) == modes.end()) {
        for (std::size_t k = 0; k < 3; ++k) {
          modes[film][k] = first_mode(Body(cylinder, cell_counts[k], film));
        }
      }
      Refined number;
      for (std::size_t k = 0; k < 3; ++k) {
        number.value[k] = eigenvalue ? modes[film][k].eigenvalue : modes[film][k].amplitude;
      }
      expect_row(row, number.extrapolated());
      // The table's four or five digits hide the errors of the finer meshes: the order is that
      // towards the extrapolated value, which must then agree with the table.
      errors.add(number, number.extrapolated());
      ++rows;
    }
    errors.print(cylinder ? "first mode of a cylinder" : "first mode of a slab");
    EXPECT_NEAR(errors.order(0), 2.0, 0.15);
  }
  EXPECT_EQ(rows, 22);
}

TEST(ConductionReference, PassiveCoolingMeetsTheRowsInDegrees) {
  const CsvTable table("conduction_transport.csv");
  // L = 1 m, k = 0.4 W/m/K, h = 10 W/m2/K, C = 2.5e6 J/m3/K, 10 days, from 60 to 10 °C.
  const double film = 10.0 * 1.0 / 0.4;
  const double fourier = 0.4 / 2.5e6 * 10.0 * 86400.0;
  for (const bool cylinder : {false, true}) {
    Refined number;
    for (std::size_t k = 0; k < 3; ++k) {
      number.value[k] =
          10.0 + 50.0 * cool(Body(cylinder, cell_counts[k], film), {fourier}).front().centre;
    }
    const ReferenceRow row = reference_row(table, cylinder ? "windrow_cyl" : "bed_slab");
    expect_row(row, number.extrapolated());
    expect_row(row, number.value[2]); // 80 cells do without the extrapolation
  }
}

TEST(ConductionReference, StepOnADeepBodyMeetsTheErrorFunction) {
  // 3 m deep: 5 diffusion lengths, of which erfc is below 1e-12.
  const CsvTable table("conduction_transport.csv");
  constexpr double diffusivity = 2e-7;
  const auto at_depth = [](int layers) {
    const Mesh mesh =
        make_container({.fill_height_m = 3.0, .plan_area_m2 = 1.0, .perimeter_m = 4.0}, 1, layers);
    DiffusionSystem system(mesh, conductances(mesh, diffusivity, {.surface = held_at_zero}), {},
                           1e-9);
    Integrator integrator(
        system, {.first_step_s = 1e-2, .largest_step_s = 86400.0, .smallest_step_s = 1e-9});
    std::vector<double> y(mesh.cells() + 1, 1.0);
    integrator.advance(y, 0.0, 5.0 * 86400.0);
    // Cubic through the four nearest cells: its own error is of fourth order.
    const double z = 3.0 - 0.3;
    std::size_t first = 0;
    while (mesh.z_m[first + 2] < z) {
      ++first;
    }
    double value = 0.0;
    for (std::size_t i = first; i < first + 4; ++i) {
      double weight = 1.0;
      for (std::size_t j = first; j < first + 4; ++j) {
        weight *= j == i ? 1.0 : (z - mesh.z_m[j]) / (mesh.z_m[i] - mesh.z_m[j]);
      }
      value += weight * y[i];
    }
    return value;
  };
  const Refined number{{at_depth(100), at_depth(200), at_depth(400)}};
  const ReferenceRow row = reference_row(table, "semi_erfc");
  expect_row(row, number.extrapolated());
  const double coarse = number.value[0] - row.value;
  const double fine = number.value[1] - row.value;
  std::printf("semi-infinite: errors %.2e %.2e %.2e, order %.2f\n", coarse, fine,
              number.value[2] - row.value, std::log2(coarse / fine));
  record("step on a deep body", 100, std::abs(coarse));
  record("step on a deep body", 200, std::abs(fine));
  record("step on a deep body", 400, std::abs(number.value[2] - row.value));
  EXPECT_NEAR(std::log2(coarse / fine), 2.0, 0.1);
}

/// Steady values with a uniform source and a loss proportional to the value, by NeighbourLu;
/// `outside` is the value beyond the film.
std::vector<double> steady(const Body& body, double source, double loss, double outside) {
  const Mesh& mesh = body.mesh();
  const auto g = body.conductance();
  std::vector<double> diagonal(mesh.cells());
  std::vector<double> minus_g(mesh.faces());
  std::vector<double> y(mesh.cells());
  for (std::size_t i = 0; i < mesh.cells(); ++i) {
    diagonal[i] = loss * mesh.volume_m3[i];
    y[i] = source * mesh.volume_m3[i];
  }
  for (std::size_t f = 0; f < mesh.faces(); ++f) {
    minus_g[f] = -g[f];
    diagonal[static_cast<std::size_t>(mesh.cell_a[f])] += g[f];
    if (mesh.cell_b[f] >= 0) {
      diagonal[static_cast<std::size_t>(mesh.cell_b[f])] += g[f];
    } else {
      y[static_cast<std::size_t>(mesh.cell_a[f])] += g[f] * outside;
    }
  }
  NeighbourLu lu(mesh);
  EXPECT_TRUE(lu.factor(diagonal, minus_g, minus_g));
  lu.solve(y);
  return y;
}

TEST(ConductionReference, UniformSourceMeetsItsRowAndIsOfSecondOrder) {
  // q L²/2k + q L/h in the slab (gen_slab), q R²/4k + q R/2h in the cylinder, with q = 20 W/m3,
  // L = R = 1 m, k = 0.4 W/m/K, h = 10 W/m2/K.
  const CsvTable table("conduction_transport.csv");
  const ReferenceRow row = reference_row(table, "gen_slab");
  for (const bool cylinder : {false, true}) {
    Refined number;
    for (std::size_t k = 0; k < 3; ++k) {
      const Body body(cylinder, fine_cell_counts[k], 10.0 / 0.4);
      number.value[k] = body.centre(steady(body, 20.0 / 0.4, 0.0, 0.0));
    }
    Errors errors;
    errors.add(number, cylinder ? 20.0 / (4.0 * 0.4) + 20.0 / (2.0 * 10.0) : row.value);
    errors.print(cylinder ? "uniform source in a cylinder" : "uniform source in a slab",
                 fine_cell_counts);
    EXPECT_NEAR(errors.order(0), 2.0, 0.1);
    EXPECT_NEAR(errors.order(1), 2.0, 0.1);
    if (!cylinder) {
      expect_row(row, number.extrapolated());
    }
  }
}

TEST(ConductionReference, ReactionAndDiffusionInASlabMeetTheThieleRows) {
  const CsvTable table("conduction_transport.csv");
  Errors errors;
  int rows = 0;
  for (std::size_t i = 0; i < table.size(); ++i) {
    const ReferenceRow row = reference_row(table, i);
    const bool at_centre = starts_with(row.id, "thiele_");
    if (!at_centre && !starts_with(row.id, "eff_")) {
      continue;
    }
    const double phi = number_after(row.id, at_centre ? "thiele_" : "eff_");
    Refined number;
    for (std::size_t k = 0; k < 3; ++k) {
      const Body body(false, cell_counts[k], held_at_zero); // held at 1 here
      const auto y = steady(body, 0.0, phi * phi, 1.0);
      double mean = 0.0;
      for (std::size_t c = 0; c < y.size(); ++c) {
        mean += y[c] * body.mesh().volume_m3[c] / body.mesh().total_volume_m3();
      }
      number.value[k] = at_centre ? body.centre(y) : mean;
      // Cells of thickness h let values decay at phi (1 - phi² h²/24); the slopes of 1/cosh and of
      // tanh(phi)/phi are at most 1/2. The half cell at the surface takes the curvature phi² for
      // none: h² phi²/8.
      const double h = body.thickest_cell();
      EXPECT_NEAR(number.value[k], row.value, phi * phi * h * h * (phi / 48.0 + 1.0 / 8.0))
          << row.id << " on " << cell_counts[k] << " cells";
    }
    errors.add(number, row.value);
    // The values are shares of 1, printed to six digits: the rows' 1e-6 is a bound on the share.
    expect_row(row, number.extrapolated(), within(row, 1e-6));
    ++rows;
  }
  errors.print("reaction and diffusion");
  EXPECT_EQ(rows, 6);
  EXPECT_NEAR(errors.order(0), 2.0, 0.1);
  EXPECT_NEAR(errors.order(1), 2.0, 0.1);
}

TEST(ConductionReference, SlabWithGrowingSourceIgnitesAtTheRowsParameter) {
  // dy/dt = y'' + delta exp(y), 0 at the surface: settles below the critical delta, runs away above
  // it. Past the critical value by 0.5 %, the row's tolerance, it lingers for some tens of time
  // units; below by as much it approaches its end at a rate of about 0.1.
  const Body body(false, 40, held_at_zero);
  const auto settles = [&](double delta) {
    DiffusionSystem system(body.mesh(), body.conductance(),
                           {.value = [=](double, double y) { return delta * std::exp(y); },
                            .slope = [=](double, double y) { return delta * std::exp(y); }},
                           1e-6);
    Integrator integrator(system,
                          {.first_step_s = 1e-4, .largest_step_s = 1.0, .smallest_step_s = 1e-9});
    std::vector<double> y(body.mesh().cells() + 1, 0.0);
    try {
      integrator.advance(y, 0.0, 200.0);
    } catch (const NumericsError&) {
      return false;
    }
    // From memory of Frank-Kamenetskii: at the critical point the centre has 1.19.
    EXPECT_LT(body.centre(y), 1.19);
    return true;
  };
  double low = 0.8;
  double high = 1.0;
  ASSERT_TRUE(settles(low));
  ASSERT_FALSE(settles(high));
  while (high - low > 1e-3) { // a quarter of the row's 0.5 %
    const double middle = 0.5 * (low + high);
    (settles(middle) ? low : high) = middle;
  }
  expect_row(reference_row(CsvTable("conduction_transport.csv"), "fk_slab"), 0.5 * (low + high));
}

TEST(ConductionReference, EveryRowIsComputedOrNamed) {
  // The last line's are property laws: PropertyReference.Transport.
  tests::expect_every_row_named(CsvTable("conduction_transport.csv"),
                                {"eig_slab_", "C1_slab_", "th_slab_", "eig_cyl_", "C1_cyl_",
                                 "th_cyl_", "windrow_cyl", "bed_slab", "gen_slab", "semi_erfc",
                                 "thiele_", "eff_", "fk_slab", "o2_", "buoy_", "darcy_", "kozeny_",
                                 "ergun"});
}

} // namespace
} // namespace heapcast::engine
