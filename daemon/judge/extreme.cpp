#include "daemon/judge/extreme.hpp"

#include <algorithm>
#include <limits>

#include "daemon/judge/decision.hpp"
#include "daemon/judge/text.hpp"
#include "daemon/statistics/rates.hpp"

namespace midstick::judge {

double Extreme::excess(double value) const {
  double past = -std::numeric_limits<double>::infinity();
  if (low_) past = std::max(past, *low_ - value);
  if (high_) past = std::max(past, value - *high_);
  return past;
}

bool Extreme::worse(const Reading& a, const Reading& b) const {
  const auto rank = [](Verdict v) { return v == Verdict::fail ? 2 : v == Verdict::inconclusive ? 1 : 0; };
  if (rank(a.verdict) != rank(b.verdict)) return rank(a.verdict) > rank(b.verdict);
  return excess(a.value) > excess(b.value);
}

void Extreme::take(Group& group, const Reading& r) {
  ++group.readings;
  if (!group.worst || worse(r, *group.worst)) group.worst = r;
}

void Extreme::add(const Traffic& traffic, const Pulse& pulse, double value) {
  const double u = traffic.width_uncertainty(pulse);
  const Reading r{value, u, decide(value, low_, high_, u), pulse, &traffic};
  take(pulse.crowded && r.verdict != Verdict::fail ? coarse_ : fine_, r);
}

void Extreme::add_certain(double value) { take(fine_, {value, 0, decide(value, low_, high_, 0), {}, nullptr}); }

void Extreme::merge(const Extreme& other) {
  for (auto [mine, theirs] : {std::pair{&fine_, &other.fine_}, std::pair{&coarse_, &other.coarse_}}) {
    mine->readings += theirs->readings;
    if (theirs->worst && (!mine->worst || worse(*theirs->worst, *mine->worst))) mine->worst = theirs->worst;
  }
}

const Extreme::Reading* Extreme::chosen() const {
  if (!fine_.worst) return coarse_.worst ? &*coarse_.worst : nullptr;
  if (fine_suffice() || !coarse_.worst) return &*fine_.worst;
  return worse(*coarse_.worst, *fine_.worst) ? &*coarse_.worst : &*fine_.worst;
}

Measure Extreme::as_measure(std::string name, std::int64_t needed) const {
  const std::int64_t n = fine_suffice() ? fine_.readings : fine_.readings + coarse_.readings;
  const Reading* worst = chosen();
  Measure m = measure(std::move(name), worst ? worst->value : 0, low_, high_, worst ? worst->uncertainty : 0, "us", n, needed);
  if (m.verdict == Verdict::pass && n > 0) m.note = "0 of " + whole(n) + " pulses beyond: " + none_seen_text(n);
  if (fine_suffice() && coarse_.readings > 0)
    m.note += (m.note.empty() ? "" : "; ") + whole(coarse_.readings) + " more set aside, stamped too coarsely";
  return m;
}

}  // namespace midstick::judge
