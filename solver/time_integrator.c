#include "solver/time_integrator.h"

#include <math.h>
#include <stdbool.h>
#include <stdlib.h>
#include <string.h>

#include <cvodes/cvodes.h>
#include <nvector/nvector_serial.h>
#include <sundials/sundials_context.h>
#include <sunlinsol/sunlinsol_spgmr.h>

static const double NONLINEAR_SHARE = 3e-6; /* of the tolerance, where CVODE would leave 0.1: what stays unsolved is heat */
static const double GIVE_BACK = 60.0;       /* s, or a step: over which that heat is given back */
static const double DIFFERENCE = 1.0; /* J/m3 */
enum { KRYLOV_DIMENSION = 80, MOST_NEWTON = 12, MOST_STEPS_WITHOUT_RETURN = 100000 };

struct time_integrator {
  network *net;
  size_t num_nodes, num_paths;
  double rel_tol, latent_scale, total_volume;
  double *state;      /* [num_nodes] data of `vector` */
  double *tolerance;  /* [num_nodes] data of `abs_tol` */
  double *heat;       /* [num_paths + 1] data of `sums`: J by path, and J into the nodes by their own rates */
  double *rate, *path_rate; /* work: [num_nodes], [num_paths] */
  double give_back;   /* J/(m3 s), within the present step */
  size_t rates, failures; /* right-hand sides evaluated, for products with the Jacobian too; failed error tests before the last restart */
  message said;       /* by the right-hand side or by CVODE */
  SUNContext context;
  N_Vector vector, abs_tol, sums;
  SUNLinearSolver solver;
  void *cvode;        /* SUNDIALS' own handle type; it does not leave this file */
};

/* ------------------------------------------------------------------------------------------- what CVODE calls */

static int right_hand_side(double time, N_Vector y, N_Vector rate, void *data)
{
  (void)time;
  time_integrator *t = data;
  double *out = N_VGetArrayPointer(rate);
  t->rates++;
  if (network_rate(t->net, N_VGetArrayPointer(y), out, t->path_rate, &t->said) != STATUS_OK)
    return -1;
  for (size_t i = 0; i < t->num_nodes; i++)
    out[i] += t->give_back;
  return 0;
}

static double heat_of(const time_integrator *t, const double *per_volume)
{
  const double *volume = network_volume(t->net);
  double sum = 0.0;
  for (size_t i = 0; i < t->num_nodes; i++)
    sum += volume[i] * per_volume[i];
  return sum;
}

/* What is summed over a step with its own weights: by each path, and into all nodes. */
static int rates_to_sum(double time, N_Vector y, N_Vector rate, void *data)
{
  (void)time;
  time_integrator *t = data;
  double *out = N_VGetArrayPointer(rate);
  t->rates++;
  if (network_rate(t->net, N_VGetArrayPointer(y), t->rate, out, &t->said) != STATUS_OK)
    return -1;
  out[t->num_paths] = heat_of(t, t->rate);
  return 0;
}

static int precondition_set(double time, N_Vector y, N_Vector rate, booleantype old_is_good, booleantype *renewed, double gamma,
                            void *data)
{
  (void)time;
  (void)rate;
  (void)old_is_good;
  time_integrator *t = data;
  network_precondition_set(t->net, N_VGetArrayPointer(y), gamma);
  *renewed = SUNTRUE;
  return 0;
}

static int precondition(double time, N_Vector y, N_Vector rate, N_Vector r, N_Vector z, double gamma, double delta, int side,
                        void *data)
{
  (void)time;
  (void)y;
  (void)rate;
  (void)gamma;
  (void)delta;
  (void)side;
  time_integrator *t = data;
  const double *in = N_VGetArrayPointer(r);
  double *out = N_VGetArrayPointer(z);
  network_precondition(t->net, in, out);
  return 0;
}

/* J v by a difference over a fraction of a joule: the rates are piecewise linear in the enthalpies, and CVODE's own difference, as
 * wide as the tolerance, would reach over the kinks at the freezing point, where Newton's method then fails to converge. */
static int jacobian_times(N_Vector v, N_Vector Jv, double time, N_Vector y, N_Vector rate, void *data, N_Vector work)
{
  time_integrator *t = data;
  const double *direction = N_VGetArrayPointer(v);
  double largest = 0.0;
  for (size_t i = 0; i < t->num_nodes; i++)
    largest = fabs(direction[i]) > largest ? fabs(direction[i]) : largest;
  if (!(largest > 0.0)) {
    N_VConst(0.0, Jv);
    return 0;
  }
  const double step = DIFFERENCE / largest;
  N_VLinearSum(step, v, 1.0, y, work);
  const int flag = right_hand_side(time, work, Jv, data);
  N_VLinearSum(1.0 / step, Jv, -1.0 / step, rate, Jv);
  return flag;
}

static void take_note(int code, const char *module, const char *function, char *text, void *data)
{
  (void)module;
  time_integrator *t = data;
  if (code < 0)
    (void)snprintf(t->said.text, sizeof t->said.text, "%s: %.900s", function, text);
}

/* ------------------------------------------------------------------------------------------- making */

static status wire(time_integrator *t, message *msg)
{
  if (SUNContext_Create(NULL, &t->context) != 0)
    return message_set(msg, STATUS_NO_MEMORY, "the bdf integrator could not be set up");
  const sunindextype num = (sunindextype)t->num_nodes;
  t->vector = N_VMake_Serial(num, t->state, t->context);
  t->abs_tol = N_VMake_Serial(num, t->tolerance, t->context);
  t->sums = N_VMake_Serial((sunindextype)t->num_paths + 1, t->heat, t->context);
  t->cvode = CVodeCreate(CV_BDF, t->context);
  t->solver = t->vector ? SUNLinSol_SPGMR(t->vector, SUN_PREC_LEFT, KRYLOV_DIMENSION, t->context) : NULL;
  if (!t->vector || !t->abs_tol || !t->sums || !t->cvode || !t->solver)
    return message_set(msg, STATUS_NO_MEMORY, "out of memory for the bdf integrator of %zu nodes", t->num_nodes);
  if (CVodeSetErrHandlerFn(t->cvode, take_note, t) != 0 || CVodeInit(t->cvode, right_hand_side, 0.0, t->vector) != 0 ||
      CVodeQuadInit(t->cvode, rates_to_sum, t->sums) != 0 || CVodeSetQuadErrCon(t->cvode, SUNFALSE) != 0 ||
      CVodeSVtolerances(t->cvode, t->rel_tol, t->abs_tol) != 0 || CVodeSetUserData(t->cvode, t) != 0 ||
      CVodeSetLinearSolver(t->cvode, t->solver, NULL) != 0 ||
      CVodeSetPreconditioner(t->cvode, precondition_set, precondition) != 0 ||
      CVodeSetJacTimes(t->cvode, NULL, jacobian_times) != 0 || CVodeSetNonlinConvCoef(t->cvode, NONLINEAR_SHARE) != 0 || CVodeSetMaxNonlinIters(t->cvode, MOST_NEWTON) != 0 ||
      CVodeSetMaxNumSteps(t->cvode, MOST_STEPS_WITHOUT_RETURN) != 0 || CVodeSetMaxOrd(t->cvode, 5) != 0)
    return message_set(msg, STATUS_FAILED, "the bdf integrator could not be set up: %.900s", t->said.text);
  return STATUS_OK;
}

static void fill_tolerances(time_integrator *t)
{
  const double *volume = network_volume(t->net);
  for (size_t i = 0; i < t->num_nodes; i++) {
    t->tolerance[i] = t->rel_tol * t->latent_scale;
    t->total_volume += volume[i];
  }
}

status time_integrator_create(time_integrator **out, network *net, double rel_tol, double latent_scale, message *msg)
{
  time_integrator *t = calloc(1, sizeof *t);
  if (!t)
    return message_set(msg, STATUS_NO_MEMORY, "out of memory: %zu bytes", sizeof *t);
  t->net = net;
  t->num_nodes = network_num_nodes(net);
  t->num_paths = network_num_paths(net);
  t->rel_tol = rel_tol;
  t->latent_scale = latent_scale;
  t->state = calloc(t->num_nodes + 1, sizeof *t->state);
  t->tolerance = calloc(t->num_nodes + 1, sizeof *t->tolerance);
  t->rate = calloc(t->num_nodes + 1, sizeof *t->rate);
  t->heat = calloc(t->num_paths + 1, sizeof *t->heat);
  t->path_rate = calloc(t->num_paths + 1, sizeof *t->path_rate);
  status code = STATUS_OK;
  if (!t->state || !t->tolerance || !t->rate || !t->heat || !t->path_rate) {
    code = message_set(msg, STATUS_NO_MEMORY, "out of memory for the bdf integrator of %zu nodes", t->num_nodes);
  } else {
    fill_tolerances(t);
    code = wire(t, msg);
  }
  if (code != STATUS_OK) {
    time_integrator_destroy(&t);
    return code;
  }
  *out = t;
  return STATUS_OK;
}

void time_integrator_destroy(time_integrator **t)
{
  if (!*t)
    return;
  time_integrator *x = *t;
  if (x->cvode)
    CVodeFree(&x->cvode);
  if (x->solver)
    SUNLinSolFree(x->solver);
  if (x->vector)
    N_VDestroy(x->vector);
  if (x->abs_tol)
    N_VDestroy(x->abs_tol);
  if (x->sums)
    N_VDestroy(x->sums);
  if (x->context)
    SUNContext_Free(&x->context);
  free(x->state);
  free(x->tolerance);
  free(x->rate);
  free(x->heat);
  free(x->path_rate);
  free(x);
  *t = NULL;
}

/* ------------------------------------------------------------------------------------------- marching */

/* CVODE's own count begins anew with every restart. */
static size_t failures_since_restart(const time_integrator *t)
{
  long int failures = 0;
  return CVodeGetNumErrTestFails(t->cvode, &failures) == 0 ? (size_t)failures : 0;
}

status time_integrator_restart(time_integrator *t, double time, double first_step, const double *enthalpy, const double *path_heat,
                               message *msg)
{
  memcpy(t->state, enthalpy, t->num_nodes * sizeof *t->state);
  memcpy(t->heat, path_heat, t->num_paths * sizeof *t->heat);
  t->heat[t->num_paths] = 0.0;
  t->failures += failures_since_restart(t);
  if (CVodeReInit(t->cvode, time, t->vector) != 0 || CVodeQuadReInit(t->cvode, t->sums) != 0 || CVodeSetInitStep(t->cvode, first_step) != 0)
    return message_set(msg, STATUS_FAILED, "the bdf integrator could not start at t = %g s: %.900s", time, t->said.text);
  return STATUS_OK;
}

/* What the solve left over in the last step, J: heat that stands in the nodes and came by no rate. */
static double left_over(const time_integrator *t, const double *before, double summed_before)
{
  const double *volume = network_volume(t->net);
  double gained = 0.0;
  for (size_t i = 0; i < t->num_nodes; i++)
    gained += volume[i] * (t->state[i] - before[i]);
  return gained - (t->heat[t->num_paths] - summed_before);
}

/* The rate that gives `open` back over the next step, or over GIVE_BACK if that is longer. */
static double give_back_rate(const time_integrator *t, double open)
{
  const double step = time_integrator_planned_step(t);
  return -open / (t->total_volume * (step > GIVE_BACK ? step : GIVE_BACK));
}

/* Once more from the same state without the history: where water freezes over, rates have kinks, and a high order that reaches across one
 * may find no step at all. */
static int step_afresh(time_integrator *t, double stop, double time, const double *enthalpy, const double *path_heat, double *reached, message *msg)
{
  if (time_integrator_restart(t, time, 0.0, enthalpy, path_heat, msg) != STATUS_OK)
    return CV_CONV_FAILURE;
  return CVode(t->cvode, stop, t->vector, reached, CV_ONE_STEP);
}

status time_integrator_step(time_integrator *t, double stop, double longest, double *time, double *enthalpy, double *path_heat,
                            double *open, message *msg)
{
  t->said.text[0] = '\0';
  t->give_back = give_back_rate(t, *open);
  double summed_before = t->heat[t->num_paths];
  double reached = *time, at_sums = 0.0;
  int flag = CVodeSetStopTime(t->cvode, stop);
  if (flag == 0)
    flag = CVodeSetMaxStep(t->cvode, longest > 0.0 ? longest : 0.0);
  if (flag == 0)
    flag = CVode(t->cvode, stop, t->vector, &reached, CV_ONE_STEP);
  if (flag == CV_CONV_FAILURE || flag == CV_ERR_FAILURE) {
    flag = step_afresh(t, stop, *time, enthalpy, path_heat, &reached, msg);
    summed_before = 0.0;
  }
  if (flag >= 0 && CVodeGetQuad(t->cvode, &at_sums, t->sums) != 0)
    flag = -1;
  if (flag < 0) {
    double step = 0.0;
    (void)CVodeGetCurrentStep(t->cvode, &step);
    return message_set(msg, STATUS_FAILED, "bdf integrator at t = %g s, step %g s: %.800s; try the stabilised integrator or a larger tolerance",
                       reached, step, t->said.text);
  }
  *time = flag == CV_TSTOP_RETURN ? stop : reached;
  *open += left_over(t, enthalpy, summed_before);
  memcpy(enthalpy, t->state, t->num_nodes * sizeof *enthalpy);
  memcpy(path_heat, t->heat, t->num_paths * sizeof *path_heat);
  return STATUS_OK;
}

double time_integrator_planned_step(const time_integrator *t)
{
  double step = 0.0;
  return CVodeGetCurrentStep(t->cvode, &step) == 0 ? step : 0.0;
}

void time_integrator_give_back(const time_integrator *t, double *enthalpy, double *open)
{
  const double *volume = network_volume(t->net);
  for (int turn = 0; turn < 2 && *open != 0.0; turn++) { /* once more for what rounding left */
    double given = 0.0;
    for (size_t i = 0; i < t->num_nodes; i++) {
      const double before = enthalpy[i];
      enthalpy[i] -= *open / t->total_volume;
      given += volume[i] * (before - enthalpy[i]);
    }
    *open -= given;
  }
}

void time_integrator_counts(const time_integrator *t, size_t *rate_evaluations, size_t *error_test_failures)
{
  *rate_evaluations = t->rates;
  *error_test_failures = t->failures + failures_since_restart(t);
}
