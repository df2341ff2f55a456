#include "io/seek_answer.h"

#include <jansson.h>
#include <math.h>
#include <string.h>

#include "io/figure_words.h"

/* ------------------------------------------------------------------------------------------------ in words */

static double figure(const seek_runs *s, size_t run, const char *path)
{
  return s->value[run * s->plan->num_report + seek_runs_column(s, path)];
}

static void say_settings(FILE *to, const seek_runs *s, size_t run)
{
  char text[96];
  for (size_t i = 0; i < s->plan->num_inputs; i++) {
    seek_runs_text(s, i, s->place[run * s->plan->num_inputs + i], text, sizeof text);
    (void)fprintf(to, "  %s = %s\n", s->plan->inputs[i].key, text);
  }
}

static void say_figures(FILE *to, const seek_runs *s, size_t run)
{
  char text[PLAIN_WORDS];
  for (size_t k = 0; k < s->plan->num_report; k++) {
    if (isnan(s->value[run * s->plan->num_report + k]))
      continue;
    figure_words_of(s->plan->report[k], s->value[run * s->plan->num_report + k], text);
    (void)fprintf(to, "  %s: %s\n", s->plan->report[k], text);
  }
}

static void say_range(FILE *to, const seek_runs *s)
{
  const plan_input *in = &s->plan->inputs[0];
  char low[96], high[96];
  plan_file_number_text(in, in->low, low, sizeof low);
  plan_file_number_text(in, in->high, high, sizeof high);
  (void)fprintf(to, "%s from %s to %s", in->key, low, high);
}

/* What the range holds instead of the target. */
static void say_no_solution(FILE *to, const seek_runs *s, const seek_target_answer *a)
{
  char text[PLAIN_WORDS], lowest[PLAIN_WORDS], highest[PLAIN_WORDS];
  const plan_target *t = &s->plan->target;
  double low = INFINITY, high = -INFINITY;
  size_t unknown = 0;
  for (size_t n = 0; n < s->num; n++) {
    const double v = figure(s, n, t->path);
    unknown += isnan(v);
    low = isnan(v) ? low : fmin(low, v);
    high = isnan(v) ? high : fmax(high, v);
  }
  figure_words_of(t->path, t->value, text);
  (void)fprintf(to, "No solution: with ");
  say_range(to, s);
  if (low > high) {
    (void)fprintf(to, " %s is not known of any of %zu runs.\n", t->path, s->num);
    return;
  }
  figure_words_of(t->path, low, lowest);
  figure_words_of(t->path, high, highest);
  (void)fprintf(to, " %s was found between %s and %s in %zu runs, never %s.\n", t->path, lowest, highest, s->num, text);
  if (unknown)
    (void)fprintf(to, "Of %zu runs it is not known (not solid in time, or failed).\n", unknown);
  (void)fprintf(to, "Nearest:\n");
  say_settings(to, s, a->run);
}

static void say_target(FILE *to, const seek_runs *s, const seek_target_answer *a)
{
  char text[PLAIN_WORDS], within[PLAIN_WORDS];
  const plan_target *t = &s->plan->target;
  figure_words_of(t->path, t->value, text);
  if (a->outcome == SEEK_NONE || a->run == SIZE_MAX) {
    say_no_solution(to, s, a);
    return;
  }
  figure_words_of(t->path, fabs(figure(s, a->run, t->path) - t->value), within);
  (void)fprintf(to, "%s of %s by\n", a->outcome == SEEK_MET ? "Met: a target" : "Not met within the runs allowed; nearest to a target", text);
  say_settings(to, s, a->run);
  say_figures(to, s, a->run);
  (void)fprintf(to, "Off the target by %s after %zu runs.\n", within, s->num);
  if (!isnan(a->slope)) {
    figure_words_of(t->path, fabs(a->slope), text);
    (void)fprintf(to, "Near there %s %s by %s per %s.\n", t->path, a->slope > 0.0 ? "rises" : "falls", text,
                  s->plan->inputs[0].unit[0] ? s->plan->inputs[0].unit : "unit");
  }
}

static void say_change(FILE *to, const seek_runs *s, const char *direction, double change, bool breaks)
{
  char text[PLAIN_WORDS];
  const char *path = s->plan->goals[0].path;
  const bool worse = (s->plan->goals[0].best == GOAL_LEAST) == (change > 0.0);
  if (isnan(change)) {
    (void)fprintf(to, "  %s: beyond the range, or not known", direction);
    return;
  }
  figure_words_of(path, fabs(change), text);
  (void)fprintf(to, "  %s: %s%s%s", direction, change == 0.0 ? "no change" : text, change == 0.0 ? "" : worse ? " worse" : " better",
                breaks ? ", but a limit is broken" : "");
}

static void say_flatness(FILE *to, const seek_runs *s, const seek_best_answer *b)
{
  (void)fprintf(to, "How flat it is, when one input moves a tenth of its range:\n");
  for (size_t i = 0; i < s->plan->num_inputs; i++) {
    (void)fprintf(to, "  %s", s->plan->inputs[i].key);
    say_change(to, s, "down", b->side[i].low_change, b->side[i].low_breaks);
    say_change(to, s, "up", b->side[i].high_change, b->side[i].high_breaks);
    (void)fprintf(to, "%s\n", b->at_edge[i] ? "; the best lies at the end of the range: a wider one may do better" : "");
  }
}

static void say_best(FILE *to, const seek_runs *s, const seek_best_answer *b)
{
  const plan_goal *g = &s->plan->goals[0];
  if (b->run == SIZE_MAX) {
    (void)fprintf(to, "No solution: %s is not known of any of %zu runs.\n", g->path, s->num);
    return;
  }
  if (!b->found) {
    (void)fprintf(to, "No solution: none of %zu runs keeps all limits. The nearest breaks one by %.3g %% of it:\n", s->num, 100.0 * b->broken);
    say_settings(to, s, b->run);
    say_figures(to, s, b->run);
    return;
  }
  (void)fprintf(to, "%s %s while the limits hold, after %zu runs:\n", g->best == GOAL_MOST ? "Most" : "Least", g->path, s->num);
  say_settings(to, s, b->run);
  say_figures(to, s, b->run);
  if (b->settled)
    say_flatness(to, s, b);
  else
    (void)fprintf(to, "The search had not settled when the runs ended: with more (runs: %zu) a better one may be found.\n", 2 * s->most);
  (void)fprintf(to, "The best near where the search began; another best far from it is not ruled out.\n");
}

bool seek_answer_print(FILE *to, const seek_runs *s, const seek_target_answer *target, const seek_best_answer *best)
{
  if (s->plan->title[0])
    (void)fprintf(to, "%s\n", s->plan->title);
  if (target)
    say_target(to, s, target);
  else
    say_best(to, s, best);
  return !ferror(to);
}

/* ------------------------------------------------------------------------------------------------ for programs */

static void put_real(json_t *o, const char *key, double value)
{
  if (isfinite(value))
    (void)json_object_set_new(o, key, json_real(value));
}

static json_t *settings_object(const seek_runs *s, size_t run)
{
  json_t *o = json_object();
  char text[96];
  for (size_t i = 0; i < s->plan->num_inputs; i++) {
    seek_runs_text(s, i, s->place[run * s->plan->num_inputs + i], text, sizeof text);
    (void)json_object_set_new(o, s->plan->inputs[i].key, json_string(text));
  }
  return o;
}

static json_t *flatness_array(const seek_runs *s, const seek_best_answer *b)
{
  json_t *list = json_array();
  for (size_t i = 0; i < s->plan->num_inputs; i++) {
    json_t *o = json_object();
    (void)json_object_set_new(o, "key", json_string(s->plan->inputs[i].key));
    put_real(o, "step", SEEK_BEST_STEP * (seek_runs_number(s, i, 1.0) - seek_runs_number(s, i, 0.0)));
    put_real(o, "down", b->side[i].low_change);
    put_real(o, "up", b->side[i].high_change);
    (void)json_object_set_new(o, "at_edge", json_boolean(b->at_edge[i]));
    (void)json_array_append_new(list, o);
  }
  return list;
}

static const char *outcome_name(const seek_target_answer *t, const seek_best_answer *b)
{
  if (t)
    return t->outcome == SEEK_MET ? "met" : t->outcome == SEEK_NONE || t->run == SIZE_MAX ? "no solution" : "runs spent";
  return !b->found ? "no solution" : b->settled ? "best" : "not settled";
}

status seek_answer_json(char **text, const seek_runs *s, const seek_target_answer *target, const seek_best_answer *best, message *msg)
{
  const size_t run = target ? target->run : best->run;
  char identity[32];
  json_t *root = json_object(), *figures = json_object();
  (void)snprintf(identity, sizeof identity, "%016llx", (unsigned long long)s->plan->identity);
  (void)json_object_set_new(root, "format", json_integer(1));
  (void)json_object_set_new(root, "plan", json_string(identity));
  (void)json_object_set_new(root, "outcome", json_string(outcome_name(target, best)));
  (void)json_object_set_new(root, "runs", json_integer((json_int_t)s->num));
  if (run != SIZE_MAX) {
    (void)json_object_set_new(root, "settings", settings_object(s, run));
    for (size_t k = 0; k < s->plan->num_report; k++)
      put_real(figures, s->plan->report[k], s->value[run * s->plan->num_report + k]);
  }
  (void)json_object_set_new(root, "figures", figures);
  if (target)
    put_real(root, "per_unit", target->slope);
  else if (best->found && best->settled)
    (void)json_object_set_new(root, "flatness", flatness_array(s, best));
  *text = root ? json_dumps(root, JSON_INDENT(2)) : NULL;
  json_decref(root);
  return *text ? STATUS_OK : message_set(msg, STATUS_NO_MEMORY, "out of memory for the answer");
}
