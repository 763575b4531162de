#pragma once

#include "models/weather/series.hpp"
#include "models/weather/weather.hpp"

#include <string>

namespace heapcast::models {

/// What a Weather says about where it comes from.
struct WeatherSource {
  std::string name;     ///< file name or "monthly normals"
  std::string checksum; ///< of the source text
};

/// Makes hourly, complete weather of what a source knows; the only way to one.
///
/// An hourly series keeps its rows. A daily one of n days becomes 24 n + 1 samples, the last being
/// the end of the last day: temperature by `hourly_temperatures`, rain by `hourly_rain`, radiation
/// in the shape of the hourly extraterrestrial radiation with the day's sum kept, wind and vapour
/// pressure constant over the day. What a series does not know is filled and listed in `estimates`:
///
/// - vapour pressure, from the first known of: vapour pressure; dew point (FAO-56 eq. 14); lowest
///   and highest humidity (eq. 17); humidity (eq. 19, hourly eq. 54); wet bulb (eq. 15); else the
///   day's tmin as dew point (eq. 48). Never above saturation at the hour's temperature.
/// - wind: 2 m/s (FAO-56, ch. 3), else brought from the site's wind height to 2 m (eq. 47).
/// - radiation, from the first known of: radiation; sunshine (eq. 35); sky cover (eq. 35 with its
///   clear share as n/N); else the day's temperature range (eq. 50), at most that of a clear sky
///   (eq. 37). Solar time by eqs. 31-33 where the longitude is known.
/// - sky temperature: from sky_infrared by Stefan-Boltzmann, else (1-c) 0.0552 T^1.5 + c T with T
///   the air temperature in K (clear sky: Swinbank 1963, Q. J. R. Meteorol. Soc. 89:339-348, from
///   memory) and c the cloud share: sky cover, else c = 1.5 (1 - Rs/Rso) within 0..1 of each day's
///   radiation and clear-sky radiation (eq. 35 turned round: Rs/Rso is 1 without cloud, 1/3
///   overcast), linear between noons, days without a sun to measure by taken from their
///   neighbours, 0.5 when there is none. The straight blend is a judgement, no source.
/// - soil temperature, undisturbed, at about 0.5 m, from the first known of: soil temperature; the
///   annual wave of the source's ground temperatures; of a year or more, the annual wave fitted to
///   the air temperature and brought to this depth (`deeper`), as if the ground's surface followed
///   the air, without snow or shade; else the air temperature through a first-order low-pass of 30
///   days from the mean of the first 30 days on, which damps a year's wave to 0.89 and delays it by
///   28 days (a judgement, no source).
///
/// Throws InputError for a site out of range or an empty series. The series' values are the
/// reader's to check.
[[nodiscard]] Weather complete_weather(const WeatherSeries& series, const Site& site,
                                       const WeatherSource& source);

/// Faults of a site that is out of range; `where` names the place in messages.
/// Throws InputError with all of them, or returns.
void check_site(const Site& site, const std::string& where);

/// The sun over a site.
class SiteSun {
public:
  explicit SiteSun(const Site& site); ///< a checked site
  /// Mean extraterrestrial radiation from half an hour before to half an hour after, W/m2.
  [[nodiscard]] double extraterrestrial_W_m2(LocalHours time) const;
  /// The day's mean extraterrestrial radiation, W/m2.
  [[nodiscard]] double extraterrestrial_W_m2(LocalDays date) const;
  [[nodiscard]] double daylight_h(LocalDays date) const;
  [[nodiscard]] double solar_noon_h(LocalDays date) const; ///< by the clock
  [[nodiscard]] double clear_sky_share() const;            ///< Rso/Ra

private:
  Site site_;
};

} // namespace heapcast::models
