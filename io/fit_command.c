#include "io/fit_command.h"

#include <errno.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#ifdef _OPENMP
#include <omp.h>
#endif

#include "io/case_triangles.h"
#include "io/fit_answer.h"
#include "io/picture_fit.h"
#include "io/run_pool.h"
#include "io/whole_file.h"

static const double USUAL_REACH = 0.5; /* of an input without a range, to either side: a share where it counts by ratios */
enum { LONGEST_LOG = 64 << 20, LONGEST_CASE = 4 << 20, SETTING = FIT_INPUTS_TEXT + 200 };

typedef struct {
  const options *o;
  const case_file *c;
  char directory[WHOLE_FILE_PATH];
  quantity_system *units;
  log_file log;
  char *case_text;
  fit_input inputs[FIT_SOLVE_MOST];
  fit_model model;
  double *measured, *predictions;
  size_t *follows;
  unsigned char *outlier;
  fit_solve_answer found;
} fitting;

/* ------------------------------------------------------------------------------------------------ reading */

static status name_directory(fitting *f, message *msg)
{
  char path[WHOLE_FILE_PATH];
  struct stat there;
  const char *asked = f->o->directory, *dot = strrchr(f->c->path, '.'), *slash = strrchr(f->c->path, '/');
  const size_t stem = dot && (!slash || dot > slash) ? (size_t)(dot - f->c->path) : strlen(f->c->path);
  const int n = asked ? snprintf(f->directory, sizeof f->directory, "%s", asked) : snprintf(f->directory, sizeof f->directory, "%.*s.fit", (int)stem, f->c->path);
  if (n < 0 || (size_t)n >= sizeof f->directory)
    return whole_file_fault(msg, "use", f->c->path, ENAMETOOLONG);
  const status code = whole_file_join(path, f->directory, "fit.json", msg);
  if (code == STATUS_OK && stat(f->directory, &there) == 0 && !whole_file_exists(path))
    return message_set(msg, STATUS_BAD_INPUT, "%s is there and holds no fit; choose another directory with -o DIR", f->directory);
  return code;
}

static status read_log(fitting *f, message *msg)
{
  char *text = NULL, *told = NULL;
  size_t n = 0;
  fault_list *faults = NULL;
  status code = whole_file_read(f->o->log_path, LONGEST_LOG, &text, &n, msg);
  if (code == STATUS_FILE) /* the log cannot be read: the input is wrong */
    code = STATUS_BAD_INPUT;
  if (code == STATUS_OK)
    code = fault_list_create(&faults, f->o->log_path, msg);
  if (code == STATUS_OK)
    code = log_file_parse(&f->log, text, n, f->units, faults, msg);
  if (faults && fault_count(faults) > 0 && fault_text(faults, &told, NULL) == STATUS_OK)
    (void)fprintf(stderr, "%s", told);
  free(told);
  fault_list_destroy(&faults);
  free(text);
  return code;
}

/* Values in the model's order, each with the one before it on the same probe. */
static status arrange(fitting *f, message *msg)
{
  const size_t probes = f->model.num_probes, num = f->log.num_rows * probes;
  size_t known = 0;
  f->measured = malloc((num + 1) * sizeof *f->measured);
  f->predictions = malloc((num + 1) * sizeof *f->predictions);
  f->follows = malloc((num + 1) * sizeof *f->follows);
  f->outlier = calloc(num + 1, 1);
  if (!f->measured || !f->predictions || !f->follows || !f->outlier)
    return message_set(msg, STATUS_NO_MEMORY, "out of memory for a log of %zu values", num);
  for (size_t i = 0; i < num; i++) {
    f->measured[i] = f->log.value[i / probes * f->log.num_columns + f->model.column[i % probes]];
    known += !isnan(f->measured[i]);
    f->follows[i] = i;
    for (size_t back = i; back >= probes && f->follows[i] == i;) {
      back -= probes;
      if (!isnan(f->measured[back]))
        f->follows[i] = back;
    }
  }
  return known > 3 * f->model.num_inputs ? STATUS_OK : message_set(msg, STATUS_BAD_INPUT, "the log holds %zu values of these probes, too few for %zu inputs", known,
                                                                  f->model.num_inputs);
}

/* Scatter that rounding alone makes: the step of the digits over the square root of 12 (even distribution). The step is the least difference of
 * neighbours on a probe. */
static double least_scatter(const fitting *f)
{
  double step = INFINITY;
  for (size_t i = 0; i < f->log.num_rows * f->model.num_probes; i++) {
    const double difference = fabs(f->measured[i] - f->measured[f->follows[i]]);
    if (difference > 1e-9 && difference < step)
      step = difference;
  }
  return isfinite(step) ? step / sqrt(12.0) : 0.0;
}

static status prepare(fitting *f, message *msg)
{
  size_t n = 0;
  status code = quantity_system_create(&f->units, msg);
  if (code == STATUS_OK)
    code = name_directory(f, msg);
  if (code == STATUS_OK)
    code = read_log(f, msg);
  if (code == STATUS_OK)
    code = whole_file_read(f->c->path, LONGEST_CASE, &f->case_text, &n, msg);
  f->model = (fit_model){.c = f->c, .case_text = f->case_text, .case_length = n, .log = &f->log, .inputs = f->inputs,
                         .jobs = f->o->jobs > 0 ? (size_t)f->o->jobs : run_pool_processors(), .quiet = f->o->quiet};
  if (code == STATUS_OK)
    code = fit_inputs_find(f->inputs, &f->model.num_inputs, f->c, f->units, f->o->vary, f->o->num_vary, msg);
  if (code == STATUS_OK)
    code = fit_model_find_probes(&f->model, msg);
  return code == STATUS_OK ? arrange(f, msg) : code;
}

/* ------------------------------------------------------------------------------------------------ writing */

static status write_text(const fitting *f, const char *name, const char *text, message *msg)
{
  char path[WHOLE_FILE_PATH];
  const status code = whole_file_join(path, f->directory, name, msg);
  return code == STATUS_OK ? whole_file_write(path, text, strlen(text), msg) : code;
}

/* The case with the fitted values, each with its spread where one is known. */
static status write_case(const fitting *f, const fit_answer *a, message *msg)
{
  char texts[FIT_SOLVE_MOST][SETTING], *faults = NULL, *resolved = NULL;
  const char **set = calloc(f->c->num_overrides + FIT_SOLVE_MOST + 1, sizeof *set);
  case_file *refined = NULL;
  size_t num = 0;
  if (!set)
    return message_set(msg, STATUS_NO_MEMORY, "out of memory for the refined case");
  for (size_t i = 0; i < f->c->num_overrides; i++)
    set[num++] = f->c->overrides[i] + strlen("--set ");
  for (size_t i = 0; i < f->model.num_inputs; i++) {
    char value[96], spread[96] = "";
    double low, high;
    fit_answer_ends(a, i, &low, &high);
    fit_inputs_text(&f->inputs[i], fit_inputs_value(&f->inputs[i], f->found.place[i]), value, sizeof value);
    const double half = 0.5 * (high - low);
    const bool kept = isfinite(half) && half > 0.0 && (!f->inputs[i].logarithm || half < fit_inputs_value(&f->inputs[i], f->found.place[i]));
    const char *unit = f->inputs[i].kind == QUANTITY_TEMPERATURE ? "K" : quantity_unit(f->inputs[i].kind);
    if (kept && f->inputs[i].kind != QUANTITY_PRESSURE)
      (void)snprintf(spread, sizeof spread, " +- %.3g%s%s", half, unit[0] ? " " : "", unit);
    (void)snprintf(texts[i], SETTING, "%s=%s%s", f->inputs[i].key, value, spread);
    set[num++] = texts[i];
  }
  status code = case_file_parse(&refined, f->c->path, f->case_text, f->model.case_length, set, num, &faults, msg);
  if (code != STATUS_OK && faults)
    (void)message_set(msg, code, "the refined case: %.*s", (int)strcspn(faults, "\n"), faults);
  if (code == STATUS_OK)
    code = case_file_resolved(refined, &resolved, msg);
  if (code == STATUS_OK)
    code = write_text(f, "case.yaml", resolved, msg);
  if (code == STATUS_OK)
    code = case_triangles_copy(refined, f->directory, msg);
  free(resolved);
  free(faults);
  case_file_destroy(&refined);
  free(set);
  return code;
}

static status write_residuals(const fitting *f, message *msg)
{
  char path[WHOLE_FILE_PATH];
  whole_file *file = NULL;
  status code = whole_file_join(path, f->directory, "residuals.csv", msg);
  if (code == STATUS_OK)
    code = whole_file_open(&file, path, msg);
  if (code != STATUS_OK)
    return code;
  FILE *to = whole_file_stream(file);
  (void)fputs("time_s,probe,measured_degC,model_degC,outlier\r\n", to);
  for (size_t i = 0; i < f->log.num_rows * f->model.num_probes; i++)
    if (!isnan(f->measured[i]))
      (void)fprintf(to, "%.10g,%s,%.6g,%.8g,%s\r\n", f->log.time[i / f->model.num_probes], f->log.name[f->model.column[i % f->model.num_probes]],
                    f->measured[i], f->predictions[i], f->outlier[i] ? "yes" : "no");
  return whole_file_commit(&file, msg); /* which looks at all errors of the stream */
}

static status write_words(const fitting *f, const fit_answer *a, message *msg)
{
  char path[WHOLE_FILE_PATH];
  whole_file *file = NULL;
  status code = whole_file_join(path, f->directory, "fit.txt", msg);
  if (code == STATUS_OK)
    code = whole_file_open(&file, path, msg);
  if (code != STATUS_OK)
    return code;
  (void)fit_answer_print(whole_file_stream(file), a);
  return whole_file_commit(&file, msg);
}

static status finish(fitting *f, message *msg)
{
  const fit_answer a = {&f->model, f->inputs, &f->found, fit_answer_before(f->inputs, f->model.num_inputs, &f->found)};
  char path[WHOLE_FILE_PATH], *json = NULL;
  status code = mkdir(f->directory, 0777) == 0 || errno == EEXIST ? STATUS_OK : whole_file_fault(msg, "make the directory", f->directory, errno);
  if (code == STATUS_OK)
    code = fit_answer_json(&json, &a, msg);
  if (code == STATUS_OK)
    code = write_text(f, "fit.json", json, msg);
  if (code == STATUS_OK)
    code = write_words(f, &a, msg);
  if (code == STATUS_OK)
    code = write_residuals(f, msg);
  if (code == STATUS_OK)
    code = whole_file_join(path, f->directory, "residuals.png", msg);
  if (code == STATUS_OK)
    code = picture_fit_draw(path, &f->model, f->predictions, f->outlier, f->found.scatter, msg);
  if (code == STATUS_OK)
    code = write_case(f, &a, msg);
  if (code == STATUS_OK) {
    bool ok = f->o->json ? printf("%s\n", json) > 0 : fit_answer_print(stdout, &a) && printf("\nThe refined case: %s/case.yaml; the residuals: residuals.png\n", f->directory) > 0;
    ok = fflush(stdout) == 0 && ok;
    code = ok ? STATUS_OK : message_set(msg, STATUS_FILE, "cannot write the answer to standard output; it is in %s", f->directory);
  }
  free(json);
  return code;
}

status fit_command(const options *o, const case_file *c, message *msg)
{
  static const double start[FIT_SOLVE_MOST] = {0.0};
  fitting f = {.o = o, .c = c};
#ifdef _OPENMP
  omp_set_num_threads(1); /* the runs are processes of their own */
#endif
  status code = prepare(&f, msg);
  double low[FIT_SOLVE_MOST], high[FIT_SOLVE_MOST];
  for (size_t i = 0; code == STATUS_OK && i < f.model.num_inputs; i++) {
    const bool ranged = !isnan(f.inputs[i].low);
    low[i] = ranged ? fit_inputs_place(&f.inputs[i], f.inputs[i].low) : -USUAL_REACH;
    high[i] = ranged ? fit_inputs_place(&f.inputs[i], f.inputs[i].high) : USUAL_REACH;
  }
  const fit_solve_request ask = {.num_inputs = f.model.num_inputs, .num_values = f.log.num_rows * f.model.num_probes, .start = start, .low = low, .high = high, .step = 0.15, .least = code == STATUS_OK ? least_scatter(&f) : 0.0,
                                 .measured = f.measured, .follows = f.follows, .model = fit_model_predict, .what = &f.model};
  if (code == STATUS_OK)
    code = fit_solve(&f.found, f.predictions, f.outlier, &ask, msg);
  if (code == STATUS_OK)
    code = finish(&f, msg);
  free(f.measured);
  free(f.predictions);
  free(f.follows);
  free(f.outlier);
  free(f.case_text);
  log_file_release(&f.log);
  quantity_system_destroy(&f.units);
  return code;
}
