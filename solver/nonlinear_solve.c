#include "solver/nonlinear_solve.h"

#include <kinsol/kinsol.h>
#include <math.h>
#include <nvector/nvector_serial.h>
#include <string.h>
#include <sunlinsol/sunlinsol_dense.h>
#include <sunmatrix/sunmatrix_dense.h>

static int residual(N_Vector x, N_Vector f, void *data)
{
  const nonlinear_problem *const *problem = data;
  const status s = (*problem)->residual(*problem, N_VGetArrayPointer(x), N_VGetArrayPointer(f));
  return s == STATUS_OK ? 0 : s > 0 ? 1 : -1;
}

/* Largest residual in units of its scale; INFINITY when the point cannot be evaluated. */
static double residual_left(const nonlinear_problem *problem, const double *x, double *f)
{
  double largest = 0.0;
  if (problem->residual(problem, x, f) != STATUS_OK) {
    return INFINITY;
  }
  for (size_t i = 0; i < problem->num; i++) {
    const double part = fabs(f[i]) / problem->residual_scale[i];
    largest = part <= largest ? largest : part; /* a NAN is kept */
  }
  return largest;
}

/* N_Vector holding the inverse of typical sizes, as KINSOL wants its scales. */
static N_Vector inverse_of(const double *scale, size_t num, SUNContext context)
{
  N_Vector v = N_VNew_Serial((sunindextype)num, context);
  for (size_t i = 0; v && i < num; i++) {
    N_VGetArrayPointer(v)[i] = 1.0 / scale[i];
  }
  return v;
}

status nonlinear_solve(const nonlinear_problem *problem, double *x, message *msg)
{
  const nonlinear_problem *handle = problem;
  const size_t num = problem->num;
  status s = STATUS_NO_MEMORY;
  SUNContext context = NULL;
  N_Vector u = NULL, unknown = NULL, equation = NULL;
  SUNMatrix matrix = NULL;
  SUNLinearSolver linear = NULL;
  void *kinsol = NULL;
  int flag = 0;
  if (SUNContext_Create(NULL, &context) != 0) {
    return message_set(msg, STATUS_NO_MEMORY, "out of memory for %zu nonlinear equations", num);
  }
  u = N_VNew_Serial((sunindextype)num, context);
  unknown = inverse_of(problem->unknown_scale, num, context);
  equation = inverse_of(problem->residual_scale, num, context);
  matrix = SUNDenseMatrix((sunindextype)num, (sunindextype)num, context);
  kinsol = KINCreate(context);
  if (u && matrix) {
    linear = SUNLinSol_Dense(u, matrix, context);
  }
  if (!u || !unknown || !equation || !matrix || !linear || !kinsol) {
    message_set(msg, s, "out of memory for %zu nonlinear equations", num);
    goto done;
  }
  memcpy(N_VGetArrayPointer(u), x, num * sizeof *x);
  s = STATUS_FAILED;
  if (KINSetErrFile(kinsol, NULL) != KIN_SUCCESS || KINSetUserData(kinsol, &handle) != KIN_SUCCESS ||
      KINSetFuncNormTol(kinsol, problem->tolerance) != KIN_SUCCESS || KINSetScaledStepTol(kinsol, 1e-14) != KIN_SUCCESS ||
      KINSetMaxSetupCalls(kinsol, 1) != KIN_SUCCESS || KINSetNumMaxIters(kinsol, 100) != KIN_SUCCESS ||
      KINInit(kinsol, residual, u) != KIN_SUCCESS || KINSetLinearSolver(kinsol, linear, matrix) != KIN_SUCCESS) {
    message_set(msg, s, "the solver for %zu nonlinear equations could not be set up", num);
    goto done;
  }
  flag = KINSol(kinsol, u, KIN_LINESEARCH, unknown, equation);
  const double left = residual_left(problem, N_VGetArrayPointer(u), N_VGetArrayPointer(unknown));
  long iterations = 0;
  (void)KINGetNumNonlinSolvIters(kinsol, &iterations);
  /* A step too small to go on is success only when the equations are met. */
  if (flag >= 0 && left <= problem->tolerance) {
    memcpy(x, N_VGetArrayPointer(u), num * sizeof *x);
    s = STATUS_OK;
  } else {
    message_set(msg, s, "%zu nonlinear equations: stopped at %.1e of the allowed %.1e after %ld iterations (code %d)", num, left,
                problem->tolerance, iterations, flag);
  }
done:
  KINFree(&kinsol);
  if (linear) {
    SUNLinSolFree(linear);
  }
  if (matrix) {
    SUNMatDestroy(matrix);
  }
  if (equation) {
    N_VDestroy(equation);
  }
  if (unknown) {
    N_VDestroy(unknown);
  }
  if (u) {
    N_VDestroy(u);
  }
  SUNContext_Free(&context);
  return s;
}
