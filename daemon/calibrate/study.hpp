// From the captures of the rounds to a calibration, the results of its certificate and their uncertainty budgets.
//
// How late a stamp is: against the looped stimulus edge for input capture; against R1's stamp of the same source edge, R1's own lateness
// added, for lone pin changes (looped pin changes are crowded by their own stimulus, so they only test the board's bound). Pure. Fails with
// bench_unfit when an edge is missing on a path (a jumper), or when stamps are further off than the board itself promises.
#pragma once

#include <string>
#include <vector>

#include "daemon/calibrate/rounds.hpp"
#include "daemon/capture/calibration.hpp"
#include "daemon/statistics/budget.hpp"
#include "protocol/messages.hpp"

namespace midstick::calibrate {

/// One line of the certificate's results.
struct ResultRow {
  std::string quantity;             ///< "stamp of R1, late"
  double value{0}, uncertainty{0};  ///< U (95 %); ns
  std::int64_t samples{0};
};

/// The budget of one kind of measurement. `judged_ns`: the 95 % half width that the judge takes, from the same errors' own distributions.
struct BudgetOf {
  std::string quantity;
  statistics::Budget budget;  ///< ns
  double judged_ns{0};
};

struct Study {
  capture::Calibration calibration;  ///< board, date, validity and supply are left to the caller
  std::vector<ResultRow> results;
  std::vector<BudgetOf> budgets;
  std::vector<std::string> notes;  ///< for a person
};

Result<Study> study(const Rounds& rounds, const protocol::Hello& hello);

}  // namespace midstick::calibrate
