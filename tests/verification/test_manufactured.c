/* Manufactured solutions: the spatial error of the heat balance is of second order.
 *
 * Method: Roache 2002 (J. Fluids Eng. 124:4). A chosen temperature field is put into the heat equation of a medium that freezes
 * smoothly around T_m with width w, f = (1 + tanh((T - T_m)/w))/2, k = k_s + (k_l - k_s) f, rho c = rho (c_s + (c_l - c_s) f
 * + L df/dT); what is left over is the heat source. Both fields have no flux through any face:
 *     (r, z):     T = T_0 + A cos(pi r2/R2) cos(pi z/H) exp(-t/tau)
 *     (x, y, z):  T = T_0 + A cos(pi x/R) cos(pi y/H) cos(pi z/R) exp(-t/tau)
 * The test marches dH/dt = network_rate + source itself, with classical Runge-Kutta steps far below the spatial error. */
#include <check.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "bench_rig.h"

static const double PI = 3.14159265358979323846;
static const double T_0 = -1.0, A = 8.0, T_m = 0.0, w = 2.0, R = 0.05, H = 0.08, tau = 1800.0; /* degC, K, m, s */
static const double k_s = 2.2, k_l = 0.58, c_s = 2050.0, c_l = 4200.0, rho = 1000.0, L = 334000.0;

static double field(grid_kind kind, const double at[3], double t)
{
  if (kind == GRID_RZ)
    return T_0 + A * cos(PI * at[0] * at[0] / (R * R)) * cos(PI * at[2] / H) * exp(-t / tau);
  return T_0 + A * cos(PI * at[0] / R) * cos(PI * at[1] / H) * cos(PI * at[2] / R) * exp(-t / tau);
}

/* W/m3: rho c dT/dt - k lap T - (dk/dT) |grad T|2. */
static double source(grid_kind kind, const double at[3], double t)
{
  const double e = A * exp(-t / tau), T = field(kind, at, t);
  double lap = 0.0, grad2 = 0.0;
  if (kind == GRID_RZ) {
    const double r = at[0], z = at[2], s = PI * r * r / (R * R), cz = cos(PI * z / H), sz = sin(PI * z / H);
    const double T_r = -2.0 * PI * r / (R * R) * e * sin(s) * cz, T_z = -PI / H * e * cos(s) * sz;
    /* (1/r) d/dr (r dT/dr) = -(4 pi/R2) e cz (sin s + s cos s) */
    lap = -4.0 * PI / (R * R) * e * cz * (sin(s) + s * cos(s)) - PI * PI / (H * H) * e * cos(s) * cz;
    grad2 = T_r * T_r + T_z * T_z;
  } else {
    const double cx = cos(PI * at[0] / R), cy = cos(PI * at[1] / H), cz = cos(PI * at[2] / R);
    const double sx = sin(PI * at[0] / R), sy = sin(PI * at[1] / H), sz = sin(PI * at[2] / R);
    lap = -PI * PI * (2.0 / (R * R) + 1.0 / (H * H)) * e * cx * cy * cz;
    grad2 = e * e * PI * PI * (pow(sx * cy * cz / R, 2) + pow(cx * sy * cz / H, 2) + pow(cx * cy * sz / R, 2));
  }
  const double th = tanh((T - T_m) / w), f = 0.5 * (1.0 + th), f_T = (1.0 - th * th) / (2.0 * w);
  const double k = k_s + (k_l - k_s) * f, capacity = rho * (c_s + (c_l - c_s) * f + L * f_T);
  return capacity * (-(T - T_0) / tau) - k * lap - (k_l - k_s) * f_T * grad2;
}

/* The formula of the source against values computed independently (computer algebra), so that a slip in it cannot hide. */
START_TEST(source_agrees_with_computer_algebra)
{
  const double rz[3] = {0.01, 0.0, 0.02}, xyz[3] = {0.03, 0.04, 0.01};
  ck_assert_double_eq_tol(field(GRID_RZ, rz, 0.0), 4.61224826411467, 1e-13);
  ck_assert_double_eq_tol(source(GRID_RZ, rz, 0.0), -13002.3965169804, 1e-8);
  ck_assert_double_eq_tol(source(GRID_XYZ, xyz, 600.0), 1008.73013729496, 1e-9);
}
END_TEST

static material freezing_medium(void)
{
  enum { ROWS = 2001 };
  static double T[ROWS], k[ROWS], c[ROWS], f[ROWS];
  for (int i = 0; i < ROWS; i++) {
    T[i] = -12.0 + 24.0 * i / (ROWS - 1);
    f[i] = 0.5 * (1.0 + tanh((T[i] - T_m) / w));
    k[i] = k_s + (k_l - k_s) * f[i];
    c[i] = rho * (c_s + (c_l - c_s) * f[i]);
  }
  const material_table table = {ROWS, T, k, c, f, rho * L, rho};
  material out;
  message msg = {""};
  ck_assert_msg(material_from_table(&out, "smoothly freezing medium", &table, &msg) == STATUS_OK, "%s", msg.text);
  return out;
}

typedef struct {
  bench_rig *b;
  grid_kind kind;
  double *path;
} balance;

static void rate_with_source(const balance *e, const double *enthalpy, double t, double *rate)
{
  message msg = {""};
  ck_assert_msg(network_rate(e->b->net, enthalpy, rate, e->path, &msg) == STATUS_OK, "%s", msg.text);
  for (size_t node = 0; node < e->b->m->num_nodes; node++)
    if (e->b->m->volume[node] > 0.0)
      rate[node] += source(e->kind, e->b->m->centroid[node], t);
}

static void runge_kutta(const balance *e, double *y, double t, double dt, size_t n, double *work)
{
  static const double at[4] = {0.0, 0.5, 0.5, 1.0}, share[4] = {1.0 / 6.0, 1.0 / 3.0, 1.0 / 3.0, 1.0 / 6.0};
  double *rate = work, *stage = work + n, *sum = work + 2 * n;
  memcpy(sum, y, n * sizeof *y);
  memset(rate, 0, n * sizeof *rate);
  for (int s = 0; s < 4; s++) {
    for (size_t i = 0; i < n; i++)
      stage[i] = y[i] + at[s] * dt * rate[i];
    rate_with_source(e, stage, t + at[s] * dt, rate);
    for (size_t i = 0; i < n; i++)
      sum[i] += share[s] * dt * rate[i];
  }
  memcpy(y, sum, n * sizeof *y);
}

/* Volume-weighted root mean square error of the temperature at the end, K. */
static double error_after(grid_kind kind, size_t cells, double duration)
{
  const size_t num[3] = {cells, kind == GRID_RZ ? 1 : cells, cells};
  const double low[3] = {0.0, 0.0, 0.0}, rz[3] = {R, 1.0, H}, xyz[3] = {R, H, R};
  const bool mirror[6] = {kind == GRID_XYZ, true, true, true, true, true};
  const material stuff = freezing_medium();
  message msg = {""};
  bench_rig b;
  bench_rig_init(&b);
  bench_rig_grid(&b, kind, num, low, kind == GRID_RZ ? rz : xyz, mirror);
  (void)bench_rig_part(&b, PART_SOLID, bench_rig_everywhere(&b), &stuff, 0.0);
  bench_rig_open(&b, bench_rig_exact(duration), rho * L);
  const size_t n = b.m->num_nodes;
  double *work = malloc(3 * n * sizeof *work);
  balance e = {&b, kind, calloc(network_num_paths(b.net) + 1, sizeof(double))};
  ck_assert_ptr_nonnull(work);
  ck_assert_ptr_nonnull(e.path);
  for (size_t node = 0; node < n; node++)
    b.state.enthalpy[node] = phase_curve_enthalpy(&b.parts[0].stuff->curve, field(kind, b.m->centroid[node], 0.0));
  double radius = 0.0;
  ck_assert_msg(network_refresh(b.net, b.state.enthalpy, 0.0, 1, &radius, &msg) == STATUS_OK, "%s", msg.text);
  const size_t steps = (size_t)ceil(duration * radius / 2.0); /* classical Runge-Kutta is stable to 2.78 */
  const double dt = duration / (double)steps;
  for (size_t step = 0; step < steps; step++)
    runge_kutta(&e, b.state.enthalpy, dt * (double)step, dt, n, work);
  double sum = 0.0, volume = 0.0;
  for (size_t node = 0; node < n; node++) {
    const double T = phase_curve_temperature(&b.parts[0].stuff->curve, b.state.enthalpy[node]);
    sum += b.m->volume[node] * pow(T - field(kind, b.m->centroid[node], duration), 2);
    volume += b.m->volume[node];
  }
  free(work);
  free(e.path);
  bench_rig_release(&b);
  return sqrt(sum / volume);
}

static void judge_order(grid_kind kind, size_t coarsest, int levels)
{
  double coarse = error_after(kind, coarsest, 200.0);
  printf("  %zu cells a side: error %.4e K\n", coarsest, coarse);
  for (int level = 1; level < levels; level++) {
    const size_t cells = coarsest << level;
    const double fine = error_after(kind, cells, 200.0), order = log2(coarse / fine);
    bench_rig_judge_that(order > 1.9 && order < 2.1, "%zu cells a side: error %.4e K, order %.3f (1.9 .. 2.1)", cells, fine, order);
    coarse = fine;
  }
}

START_TEST(error_in_r_z_is_of_second_order)
{
  bench_rig_title("manufactured solution in (r, z)");
  judge_order(GRID_RZ, 16, bench_rig_brief() ? 2 : 3);
  bench_rig_verdict();
}
END_TEST

START_TEST(error_in_x_y_z_is_of_second_order)
{
  bench_rig_title("manufactured solution in (x, y, z)");
  judge_order(GRID_XYZ, 8, bench_rig_brief() ? 2 : 3);
  bench_rig_verdict();
}
END_TEST

int main(void)
{
  Suite *suite = suite_create("manufactured solutions");
  TCase *tcase = tcase_create("order");
  tcase_add_test(tcase, source_agrees_with_computer_algebra);
  tcase_add_test(tcase, error_in_r_z_is_of_second_order);
  tcase_add_test(tcase, error_in_x_y_z_is_of_second_order);
  tcase_set_timeout(tcase, 600);
  suite_add_tcase(suite, tcase);
  return bench_rig_run_suite(suite);
}
