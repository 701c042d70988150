#include "daemon/sweep/side_fit.hpp"

#include <algorithm>
#include <cmath>
#include <vector>

#include "daemon/judge/uncertainty.hpp"
#include "daemon/statistics/line_fit.hpp"
#include "daemon/statistics/rates.hpp"
#include "daemon/statistics/summary.hpp"
#include "daemon/sweep/curve_fit.hpp"

namespace midstick::sweep {
namespace {

constexpr double kMovedUs = 1.5;        ///< an output this far from its level has left it; a controller counts in 0.5 or 1 us
constexpr double kAnswersUs = 20;       ///< an output that moves less over the whole side does not answer
constexpr std::size_t kFlatPoints = 3;  ///< fewer at the end are no clipping
constexpr double kBent = 1.3;           ///< a bent curve is taken when a line's residuals are so much larger
constexpr double kBentUs = 0.6;         ///< and larger than a controller's rounding

struct Points {
  std::vector<double> x, y;
  void add(const SidePoint& p) { x.push_back(p.u), y.push_back(p.y); }
};

/// The two neighbouring positions of one direction that the edge lies between.
struct Bracket {
  double inside, outside;
  double middle() const { return (inside + outside) / 2; }
  Value value(double common) const { return {middle(), std::hypot(judge::rectangular_uncertainty((outside - inside) / 2), common)}; }
};

std::optional<Bracket> bracket(std::span<const SidePoint> sorted, bool outwards, double level) {
  std::vector<SidePoint> way;
  std::ranges::copy_if(sorted, std::back_inserter(way), [&](const SidePoint& p) { return p.outwards == outwards; });
  const auto moved = [&](std::size_t i) { return std::abs(way[i].y - level) > kMovedUs; };
  for (std::size_t i = 1; i + 1 < way.size(); ++i)
    if (moved(i) && moved(i + 1)) return Bracket{way[i - 1].u, way[i].u};
  return std::nullopt;
}

class Fitter {
 public:
  Fitter(std::vector<SidePoint> points, double level, double common) : points_(std::move(points)), level_(level), common_(common) {
    std::ranges::stable_sort(points_, {}, &SidePoint::u);
  }

  SideFit fit() {
    if (!find_last()) return out_;
    const auto out = bracket(points_, true, level_), in = bracket(points_, false, level_);
    if (!out || !in) return out_;
    find_clip();
    // The stretch that the gain is of: beyond both edges and short of the end.
    const double first = std::max(out->outside, in->outside);
    for (const SidePoint& p : points_)
      if (p.u >= first && p.u < clip_at_) middle_.add(p);
    if (middle_.x.size() < 6) return out_;
    find_line();
    find_jump(*out, *in);
    out_.jumps ? fit_jump(*out, *in) : fit_continuous();
    return out_;
  }

 private:
  bool find_last() {
    if (points_.size() < 10) return false;
    std::vector<double> last;
    for (std::size_t i = points_.size() - 4; i < points_.size(); ++i) last.push_back(points_[i].y);
    const auto s = statistics::summarise(last);
    out_.last = {s.mean, judge::mean_uncertainty(s.sd, s.samples, common_)};
    return out_.answers = std::abs(s.mean - level_) > kAnswersUs;
  }

  /// Where it seems to clip, for a start: the first of the points at the far end that are all alike.
  void find_clip() {
    std::size_t i = points_.size();
    while (i > 0 && std::abs(points_[i - 1].y - out_.last.value) <= kMovedUs) --i;
    if (points_.size() - i >= 2 * kFlatPoints && i > 0) clip_at_ = points_[i].u;  // twice: both directions
  }

  void find_line() {
    const auto line = statistics::fit_line(middle_.x, middle_.y);
    if (!line) return;
    // What all readings share can still differ from one end of the stretch to the other.
    const double between_ends = std::sqrt(2.0) * common_ / std::max(1.0, middle_.x.back() - middle_.x.front());
    out_.gain = Value{line->slope, std::hypot(statistics::student_t95(line->dof) * line->u_slope, between_ends)};
    out_.gain_from = middle_.x.front(), out_.gain_to = middle_.x.back(), out_.gain_y = line->value(out_.gain_from);
    for (std::size_t i = 0; i < middle_.x.size(); ++i)
      out_.linearity = std::max(out_.linearity, std::abs(middle_.y[i] - line->value(middle_.x[i])));
    const auto bent = cubic();
    out_.straight = !bent || line->residual_sd < kBentUs || line->residual_sd < kBent * bent->sd;
  }

  /// About the middle of the stretch, where the powers hang together least.
  std::optional<CurveFit> cubic() const {
    const double half = std::max(1.0, (middle_.x.back() - middle_.x.front()) / 2), c = (middle_.x.back() + middle_.x.front()) / 2;
    return fit_curve(
        [=](const std::vector<double>& p, double x) {
          const double w = (x - c) / half;
          return p[0] + w * (p[1] + w * (p[2] + w * p[3]));
        },
        {out_.last.value / 2 + level_ / 2, out_.last.value / 2 - level_ / 2, 0, 0}, middle_.x, middle_.y);
  }

  /// Does the curve beyond the edge, carried on to the last position inside, come back to level? If not, it jumps.
  void find_jump(const Bracket& out, const Bracket& in) {
    const double inside = std::max(out.inside, in.inside);
    const auto bent = cubic();
    const auto line = statistics::fit_line(middle_.x, middle_.y);
    if (!bent || !line) return;
    const double half = std::max(1.0, (middle_.x.back() - middle_.x.front()) / 2), c = (middle_.x.back() + middle_.x.front()) / 2;
    const double w = (inside - c) / half;
    const double there = out_.straight ? line->value(inside) : bent->p[0] + w * (bent->p[1] + w * (bent->p[2] + w * bent->p[3]));
    const double away = (there - level_) * (out_.last.value > level_ ? 1 : -1);
    out_.jumps = away > 2 * kMovedUs;
  }

  std::vector<double> shape_start() const {
    const double gain = out_.gain->value;
    return out_.straight ? std::vector<double>{gain} : std::vector<double>{gain, 0, 0};
  }
  /// a w + b w^2 + c w^3 from p[at].. ; w scaled to hundreds of us, so that the parameters are of one size.
  static double shape(const std::vector<double>& p, std::size_t at, std::size_t n, double w) {
    const double h = w / 100;
    return n == 1 ? p[at] * w : p[at] * w + h * h * (p[at + 1] + h * p[at + 2]);
  }

  void fit_continuous() {
    const std::size_t n = out_.straight ? 1 : 3;
    const bool clips = clip_at_ < 1e9;
    const Curve curve = [n, clips](const std::vector<double>& p, double u) {
      const double end = clips ? p[2 + n] : 1e9;
      return p[0] + (u <= p[1] ? 0 : shape(p, 2, n, std::min(u, end) - p[1]));
    };
    const auto run = [&](int direction) -> std::optional<CurveFit> {  // -1 both
      Points part;
      for (const SidePoint& p : points_)
        if (direction < 0 || p.outwards == (direction == 1)) part.add(p);
      const double edge = out_.gain_from - (middle_.y.front() - level_) / out_.gain->value;
      std::vector<double> start{level_, std::max(0.5, edge)};
      std::ranges::copy(shape_start(), std::back_inserter(start));
      if (clips) start.push_back(clip_at_ - 1);
      return fit_curve(curve, start, part.x, part.y);
    };
    const auto both = run(-1);
    if (!both) return;
    out_.residual_sd = both->sd;
    const auto value = [&](const CurveFit& fit, std::size_t i) { return Value{fit.p[i], std::hypot(fit.u95(i), common_)}; };
    out_.edge = value(*both, 1);
    out_.offset = Value{0, std::hypot(kMovedUs, common_)};
    if (clips) out_.end = value(*both, 2 + n);
    if (const auto way = run(1)) out_.leaving = value(*way, 1);
    if (const auto way = run(0)) out_.entering = value(*way, 1);
  }

  void fit_jump(const Bracket& out, const Bracket& in) {
    out_.leaving = out.value(common_), out_.entering = in.value(common_);
    const double edge = (out.middle() + in.middle()) / 2;
    out_.edge = Value{edge, std::hypot(out_.leaving->u, out_.entering->u) / 2 + std::abs(out.middle() - in.middle()) / 2};
    const std::size_t n = out_.straight ? 1 : 3;
    const bool clips = clip_at_ < 1e9;
    Points part;
    for (const SidePoint& p : points_)
      if (p.u >= out_.gain_from) part.add(p);
    std::vector<double> start{0};
    std::ranges::copy(shape_start(), std::back_inserter(start));
    if (clips) start.push_back(clip_at_ - 1);
    const auto fit =
        fit_curve([=, level = level_](const std::vector<double>& p,
                                      double u) { return level + p[0] + shape(p, 1, n, std::min(u, clips ? p[1 + n] : 1e9) - edge); },
                  start, part.x, part.y);
    if (!fit) return;
    out_.residual_sd = fit->sd;
    out_.offset = Value{fit->p[0], std::hypot(fit->u95(0), common_, out_.edge->u * fit->p[1])};
    if (clips) out_.end = Value{fit->p[1 + n], std::hypot(fit->u95(1 + n), common_)};
  }

  std::vector<SidePoint> points_;
  double level_, common_;
  double clip_at_{1e9};
  Points middle_;
  SideFit out_;
};

}  // namespace

SideFit fit_side(std::span<const SidePoint> points, double level, double common) {
  return Fitter({points.begin(), points.end()}, level, common).fit();
}

}  // namespace midstick::sweep
