#include "solver/time_integrator.h"

#include <stdlib.h>
#include <string.h>

#include <cvode/cvode.h>
#include <nvector/nvector_serial.h>
#include <sundials/sundials_context.h>
#include <sunlinsol/sunlinsol_spgmr.h>

/* What Newton leaves unsolved is what the ledger of this integrator stays open by, so it is solved further than CVODE would (0.1). */
static const double NONLINEAR_SHARE = 3e-6;
enum { KRYLOV_DIMENSION = 20, MOST_NEWTON = 12, MOST_STEPS_WITHOUT_RETURN = 100000 };

struct time_integrator {
  network *net;
  size_t num_nodes, num_paths;
  double rel_tol, latent_scale;
  double *state;      /* [num_nodes + num_paths] data of `vector` */
  double *tolerance;  /* data of `abs_tol` */
  message said;       /* by the right-hand side or by CVODE */
  SUNContext context;
  N_Vector vector, abs_tol;
  SUNLinearSolver solver;
  void *cvode;        /* SUNDIALS' own handle type; it does not leave this file */
};

/* ------------------------------------------------------------------------------------------- what CVODE calls */

static int right_hand_side(double time, N_Vector y, N_Vector rate, void *data)
{
  time_integrator *t = data;
  const double *enthalpy = N_VGetArrayPointer(y);
  double *out = N_VGetArrayPointer(rate), bound = 0.0;
  status code = network_refresh(t->net, enthalpy, time, &bound, &t->said);
  if (code == STATUS_OK)
    code = network_rate(t->net, enthalpy, out, out + t->num_nodes, &t->said);
  return code == STATUS_OK ? 0 : -1;
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
  memcpy(out + t->num_nodes, in + t->num_nodes, t->num_paths * sizeof *out); /* paths: the identity */
  return 0;
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
  const sunindextype num = (sunindextype)(t->num_nodes + t->num_paths);
  t->vector = N_VMake_Serial(num, t->state, t->context);
  t->abs_tol = N_VMake_Serial(num, t->tolerance, t->context);
  t->cvode = CVodeCreate(CV_BDF, t->context);
  t->solver = t->vector ? SUNLinSol_SPGMR(t->vector, SUN_PREC_LEFT, KRYLOV_DIMENSION, t->context) : NULL;
  if (!t->vector || !t->abs_tol || !t->cvode || !t->solver)
    return message_set(msg, STATUS_NO_MEMORY, "out of memory for the bdf integrator of %zu nodes", t->num_nodes);
  if (CVodeSetErrHandlerFn(t->cvode, take_note, t) != 0 || CVodeInit(t->cvode, right_hand_side, 0.0, t->vector) != 0 ||
      CVodeSVtolerances(t->cvode, t->rel_tol, t->abs_tol) != 0 || CVodeSetUserData(t->cvode, t) != 0 ||
      CVodeSetLinearSolver(t->cvode, t->solver, NULL) != 0 ||
      CVodeSetPreconditioner(t->cvode, precondition_set, precondition) != 0 ||
      CVodeSetNonlinConvCoef(t->cvode, NONLINEAR_SHARE) != 0 || CVodeSetMaxNonlinIters(t->cvode, MOST_NEWTON) != 0 ||
      CVodeSetMaxNumSteps(t->cvode, MOST_STEPS_WITHOUT_RETURN) != 0 || CVodeSetMaxOrd(t->cvode, 5) != 0)
    return message_set(msg, STATUS_FAILED, "the bdf integrator could not be set up: %.900s", t->said.text);
  return STATUS_OK;
}

static void fill_tolerances(time_integrator *t)
{
  for (size_t i = 0; i < t->num_nodes; i++)
    t->tolerance[i] = t->rel_tol * t->latent_scale;
  const double *volume = network_volume(t->net);
  double heat = 0.0;
  for (size_t i = 0; i < t->num_nodes; i++)
    heat += volume[i] * t->latent_scale;
  for (size_t p = 0; p < t->num_paths; p++)
    t->tolerance[t->num_nodes + p] = t->rel_tol * heat;
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
  t->state = calloc(t->num_nodes + t->num_paths + 1, sizeof *t->state);
  t->tolerance = calloc(t->num_nodes + t->num_paths + 1, sizeof *t->tolerance);
  status code = STATUS_OK;
  if (!t->state || !t->tolerance) {
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
  if (x->context)
    SUNContext_Free(&x->context);
  free(x->state);
  free(x->tolerance);
  free(x);
  *t = NULL;
}

/* ------------------------------------------------------------------------------------------- marching */

status time_integrator_restart(time_integrator *t, double time, const double *enthalpy, const double *path_heat, message *msg)
{
  memcpy(t->state, enthalpy, t->num_nodes * sizeof *t->state);
  memcpy(t->state + t->num_nodes, path_heat, t->num_paths * sizeof *t->state);
  if (CVodeReInit(t->cvode, time, t->vector) != 0)
    return message_set(msg, STATUS_FAILED, "the bdf integrator could not start at t = %g s: %.900s", time, t->said.text);
  return STATUS_OK;
}

status time_integrator_step(time_integrator *t, double stop, double longest, double *time, double *enthalpy, double *path_heat,
                            message *msg)
{
  t->said.text[0] = '\0';
  double reached = *time;
  int flag = CVodeSetStopTime(t->cvode, stop);
  if (flag == 0)
    flag = CVodeSetMaxStep(t->cvode, longest > 0.0 ? longest : 0.0);
  if (flag == 0)
    flag = CVode(t->cvode, stop, t->vector, &reached, CV_ONE_STEP);
  if (flag < 0) {
    double step = 0.0;
    (void)CVodeGetCurrentStep(t->cvode, &step);
    return message_set(msg, STATUS_FAILED, "bdf integrator at t = %g s, step %g s: %.800s; try the stabilised integrator or a larger tolerance",
                       reached, step, t->said.text);
  }
  *time = flag == CV_TSTOP_RETURN ? stop : reached;
  memcpy(enthalpy, t->state, t->num_nodes * sizeof *enthalpy);
  memcpy(path_heat, t->state + t->num_nodes, t->num_paths * sizeof *path_heat);
  return STATUS_OK;
}

void time_integrator_counts(const time_integrator *t, size_t *rate_evaluations, size_t *error_test_failures)
{
  long int rates = 0, krylov_rates = 0, failures = 0;
  (void)CVodeGetNumRhsEvals(t->cvode, &rates);
  (void)CVodeGetNumLinRhsEvals(t->cvode, &krylov_rates);
  (void)CVodeGetNumErrTestFails(t->cvode, &failures);
  *rate_evaluations = (size_t)(rates + krylov_rates);
  *error_test_failures = (size_t)failures;
}
