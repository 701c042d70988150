#include "daemon/sweep/curve_fit.hpp"

#include <gsl/gsl_blas.h>
#include <gsl/gsl_errno.h>
#include <gsl/gsl_multifit_nlinear.h>

#include <cmath>
#include <memory>

#include "daemon/statistics/rates.hpp"

namespace midstick::sweep {
namespace {

struct Problem {
  const Curve* curve;
  std::span<const double> x, y;
};

int residuals(const gsl_vector* p, void* data, gsl_vector* f) {
  const auto& problem = *static_cast<const Problem*>(data);
  std::vector<double> params(p->size);
  for (std::size_t i = 0; i < params.size(); ++i) params[i] = gsl_vector_get(p, i);
  for (std::size_t i = 0; i < problem.x.size(); ++i) {
    const double r = (*problem.curve)(params, problem.x[i]) - problem.y[i];
    if (!std::isfinite(r)) return GSL_EDOM;
    gsl_vector_set(f, i, r);
  }
  return GSL_SUCCESS;
}

template <auto Free>
struct Freed {
  template <class T>
  void operator()(T* p) const {
    Free(p);
  }
};

}  // namespace

double CurveFit::u95(std::size_t i) const { return statistics::student_t95(freedom) * u[i]; }

std::optional<CurveFit> fit_curve(const Curve& curve, const std::vector<double>& start, std::span<const double> x,
                                  std::span<const double> y) {
  constexpr std::size_t kMostSteps = 200;
  constexpr double kParameterTol = 1e-9, kGradientTol = 1e-10;
  const std::size_t n = x.size(), k = start.size();
  if (n < k + 2 || y.size() != n) return std::nullopt;
  gsl_set_error_handler_off();  // errors come back as codes
  Problem problem{&curve, x, y};
  gsl_multifit_nlinear_fdf fdf{};
  fdf.f = residuals, fdf.n = n, fdf.p = k, fdf.params = &problem;  // no Jacobian given: GSL takes differences
  auto settings = gsl_multifit_nlinear_default_parameters();
  settings.h_df = 1e-6;  // kinks and GSL's default step, 1e-8 of a width, would leave no digits
  const std::unique_ptr<gsl_multifit_nlinear_workspace, Freed<gsl_multifit_nlinear_free>> w(
      gsl_multifit_nlinear_alloc(gsl_multifit_nlinear_trust, &settings, n, k));
  const std::unique_ptr<gsl_matrix, Freed<gsl_matrix_free>> covariance(gsl_matrix_alloc(k, k));
  const auto from = gsl_vector_const_view_array(start.data(), k);
  if (gsl_multifit_nlinear_init(&from.vector, &fdf, w.get()) != GSL_SUCCESS) return std::nullopt;
  int info = 0;
  // A curve with kinks often ends with "no further progress" at its best point, which is as good an end as any: judged by the result.
  gsl_multifit_nlinear_driver(kMostSteps, kParameterTol, kGradientTol, 0, nullptr, nullptr, &info, w.get());
  if (gsl_multifit_nlinear_covar(gsl_multifit_nlinear_jac(w.get()), 1e-12, covariance.get()) != GSL_SUCCESS) return std::nullopt;
  CurveFit fit;
  fit.freedom = static_cast<int>(n - k);
  double squares = 0;
  gsl_blas_ddot(gsl_multifit_nlinear_residual(w.get()), gsl_multifit_nlinear_residual(w.get()), &squares);
  fit.sd = std::sqrt(squares / fit.freedom);
  for (std::size_t i = 0; i < k; ++i) {
    fit.p.push_back(gsl_vector_get(gsl_multifit_nlinear_position(w.get()), i));
    const double variance = gsl_matrix_get(covariance.get(), i, i);
    if (!std::isfinite(fit.p.back()) || !(variance > 0)) return std::nullopt;
    fit.u.push_back(fit.sd * std::sqrt(variance));
  }
  return fit;
}

}  // namespace midstick::sweep
