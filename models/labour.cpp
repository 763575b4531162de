#include "models/labour.hpp"

namespace heapcast::models {

namespace {

double turning_rate_m3_h(const LabourRates& rates, TurnMethod method) {
  switch (method) {
  case TurnMethod::fork:
    return rates.fork_m3_h;
  case TurnMethod::loader:
    return rates.loader_m3_h;
  case TurnMethod::windrow_turner:
    return rates.windrow_turner_m3_h;
  }
  return rates.fork_m3_h;
}

} // namespace

void Labour::turn(TurnMethod method, double volume_m3) {
  turning_h_ += volume_m3 / turning_rate_m3_h(rates_, method) + rates_.setting_up_h;
}

void Labour::water(double litres, bool on_its_own) {
  watering_h_ += litres / rates_.watering_L_h + (on_its_own ? rates_.setting_up_h : 0.0);
}

} // namespace heapcast::models
