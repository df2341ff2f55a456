#include "io/picture_sweep.h"

#include <errno.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>

#include "io/axes.h"
#include "io/figure_words.h"
#include "io/report_unit.h"

static const colour INK = {0.13, 0.15, 0.18, 1.0}, GREY = {0.36, 0.39, 0.43, 1.0}, DOT = {0.00, 0.33, 0.62, 0.55}, MEAN = {0.84, 0.37, 0.00, 1.0};
static const double TEXT = 22.0, TITLE = 34.0, PANEL_WIDTH = 400.0, PANEL_HEIGHT = 300.0, LEFT = 150.0, ABOVE = 60.0, BELOW = 110.0, RIGHT = 40.0;
enum { MOST_ACROSS = 6, MOST_DOWN = 4, MOST_LEVELS = 24, BINS = 8, MOST_DOTS = 20000 };

/* ------------------------------------------------------------------------------------------------ scales */

/* How one column of the table lies along an axis: numbers by their value in a readable unit, words side by side. */
typedef struct {
  bool is_word;
  double scale, low, high;
  char title[PLAN_PATH + 24];
  size_t num_levels;                    /* words */
  char level[MOST_LEVELS][PLAN_POINTS_VALUE];
} scale;

static void widen(scale *x)
{
  const double room = x->high > x->low ? 0.06 * (x->high - x->low) : 0.5 * fmax(fabs(x->low), 1.0);
  x->low -= room;
  x->high += room;
}

static void make_numbers(scale *x, const char *name, const char *unit, bool is_share, double low, double high)
{
  figure_words_scale s = figure_words_axis(unit, fmax(fabs(low), fabs(high)));
  if (is_share)
    s = (figure_words_scale){100.0, "%"};
  x->is_word = false;
  x->scale = s.scale;
  x->low = low * s.scale;
  x->high = high * s.scale;
  (void)snprintf(x->title, sizeof x->title, "%s%s%s", name, s.unit[0] ? ", " : "", s.unit);
  widen(x);
}

static size_t level_of(const scale *x, const char *word)
{
  for (size_t i = 0; i < x->num_levels; i++)
    if (strcmp(x->level[i], word) == 0)
      return i;
  return x->num_levels;
}

static void make_input_scale(scale *x, const sweep_table *t, size_t input)
{
  const plan_input *in = &t->s->plan->inputs[input];
  double low = INFINITY, high = -INFINITY;
  *x = (scale){.is_word = !in->numeric, .scale = 1.0};
  for (size_t point = 0; point < t->num_points; point++) {
    char text[PLAN_POINTS_VALUE];
    double number = t->input[point * t->num_inputs + input];
    if (x->is_word) {
      (void)plan_points_value(t->s->points, point, input, text, &number);
      if (level_of(x, text) == x->num_levels && x->num_levels < MOST_LEVELS)
        memcpy(x->level[x->num_levels++], text, sizeof text);
    } else if (!isnan(number)) {
      low = fmin(low, number);
      high = fmax(high, number);
    }
  }
  if (!x->is_word && low <= high) {
    make_numbers(x, in->key, quantity_unit(in->what->kind), in->what->kind == QUANTITY_SHARE, low, high);
    return;
  }
  x->is_word = true; /* also of numbers none of which is known */
  x->low = -0.5;
  x->high = fmax((double)x->num_levels, 1.0) - 0.5;
  (void)snprintf(x->title, sizeof x->title, "%s", in->key);
}

static double place_of(const scale *x, const sweep_table *t, size_t point, size_t input)
{
  char text[PLAN_POINTS_VALUE];
  double number = t->input[point * t->num_inputs + input];
  if (!x->is_word)
    return number * x->scale;
  (void)plan_points_value(t->s->points, point, input, text, &number);
  return (double)level_of(x, text);
}

/* False when fewer than two cases have the figure, or all have the same. */
static bool make_value_scale(scale *x, const sweep_table *t, size_t k)
{
  double low = INFINITY, high = -INFINITY;
  size_t num = 0;
  *x = (scale){.scale = 1.0};
  for (size_t which = 0; which < t->num_cases; which++) {
    const double v = t->value[which * t->num_values + k];
    if (isnan(v))
      continue;
    low = fmin(low, v);
    high = fmax(high, v);
    num++;
  }
  const report_unit u = report_unit_of(t->s->plan->report[k]);
  const size_t n = strlen(t->s->plan->report[k]), m = u.suffix[0] == '_' ? strlen(u.suffix) : 0;
  char name[PLAN_PATH];
  /* the unit that is drawn stands beside the name, so its own suffix goes */
  (void)snprintf(name, sizeof name, "%.*s", (int)(n > m && strcmp(t->s->plan->report[k] + n - m, u.suffix) == 0 ? n - m : n), t->s->plan->report[k]);
  if (num >= 2)
    make_numbers(x, name, u.unit, u.kind == QUANTITY_SHARE, low, high);
  return num >= 2 && low < high;
}

static double value_of(const sweep_table *t, size_t point, size_t k)
{
  return t->value[plan_points_case(t->s->points, point) * t->num_values + k];
}

/* Every so many points are drawn when there are very many. */
static size_t stride_of(const sweep_table *t)
{
  return t->num_points / MOST_DOTS + 1;
}

/* ------------------------------------------------------------------------------------------------ panels */

static axes_frame frame_at(double x, double y, const scale *across, const scale *up)
{
  return (axes_frame){x, y, PANEL_WIDTH, PANEL_HEIGHT, across->low, across->high, up->low, up->high};
}

static void fit(canvas *c, const char *text, double width, char *out, size_t size)
{
  canvas_fit_text(c, (canvas_style){.size = TEXT, .ink = INK}, text, width, out, size);
}

static void draw_level_names(canvas *c, const axes_frame *f, const scale *x)
{
  char text[PLAN_POINTS_VALUE];
  for (size_t i = 0; i < x->num_levels; i++) {
    fit(c, x->level[i], PANEL_WIDTH / (double)x->num_levels - 8.0, text, sizeof text);
    canvas_text(c, axes_x(f, (double)i), f->y + f->height + 26.0, (canvas_style){.size = TEXT, .ink = INK, .align = CANVAS_CENTRE}, text);
  }
  fit(c, x->title, PANEL_WIDTH + LEFT - 10.0, text, sizeof text);
  canvas_text(c, f->x + 0.5 * f->width, f->y + f->height + 57.0, (canvas_style){.size = TEXT, .ink = INK, .align = CANVAS_CENTRE}, text);
}

static void draw_level_names_up(canvas *c, const axes_frame *f, const scale *y)
{
  char text[PLAN_POINTS_VALUE];
  for (size_t i = 0; i < y->num_levels; i++) {
    fit(c, y->level[i], LEFT - 60.0, text, sizeof text);
    canvas_text(c, f->x - 12.0, axes_y(f, (double)i), (canvas_style){.size = TEXT, .ink = INK, .align = CANVAS_RIGHT}, text);
  }
  fit(c, y->title, PANEL_HEIGHT, text, sizeof text);
  canvas_text(c, f->x - LEFT + 30.0, f->y + 0.5 * f->height, (canvas_style){.size = TEXT, .ink = INK, .align = CANVAS_CENTRE, .turn = 90.0}, text);
}

static axes_look look_of(canvas *c, const scale *across, const scale *up, char a[PLAN_POINTS_VALUE], char b[PLAN_POINTS_VALUE])
{
  fit(c, across->title, PANEL_WIDTH + LEFT - 10.0, a, PLAN_POINTS_VALUE);
  fit(c, up->title, PANEL_HEIGHT + 60.0, b, PLAN_POINTS_VALUE);
  return (axes_look){.across = across->is_word ? NULL : a, .up = up->is_word ? NULL : b, .most_across = 6, .most_up = 6, .text = TEXT};
}

static void draw_axes(canvas *c, const axes_frame *f, const scale *across, const scale *up)
{
  char a[PLAN_POINTS_VALUE], b[PLAN_POINTS_VALUE];
  const axes_look look = look_of(c, across, up, a, b);
  axes_draw(c, f, &look);
  if (across->is_word)
    draw_level_names(c, f, across);
  if (up->is_word)
    draw_level_names_up(c, f, up);
}

static void draw_under(canvas *c, const axes_frame *f, const scale *across, const scale *up)
{
  char a[PLAN_POINTS_VALUE], b[PLAN_POINTS_VALUE];
  const axes_look look = look_of(c, across, up, a, b);
  axes_draw_grid(c, f, &look);
}

/* ------------------------------------------------------------------------------------------------ main effects */

/* Means over equal values of the input, or over eighths of its range when there are more than MOST_LEVELS of them. */
typedef struct { double place, sum, num; } group;

static int by_place(const void *a, const void *b)
{
  const double x = ((const group *)a)->place, y = ((const group *)b)->place;
  return (x > y) - (x < y);
}

static size_t find_groups(const sweep_table *t, const scale *x, size_t input, size_t k, group groups[MOST_LEVELS])
{
  size_t num = 0;
  bool many = false;
  for (int pass = 0; pass < 2 && (pass == 0 || many); pass++) {
    num = 0;
    for (size_t point = 0; point < t->num_points; point++) {
      const double v = value_of(t, point, k);
      double place = place_of(x, t, point, input);
      if (isnan(v) || isnan(place))
        continue;
      if (many)
        place = x->low + (x->high - x->low) * (fmin(floor((place - x->low) / (x->high - x->low) * BINS), BINS - 1.0) + 0.5) / BINS;
      size_t i = 0;
      while (i < num && fabs(groups[i].place - place) > 1e-9 * (x->high - x->low))
        i++;
      if (i == num && num == MOST_LEVELS) {
        many = true;
        break;
      }
      if (i == num)
        groups[num++] = (group){.place = place};
      groups[i].sum += v;
      groups[i].num += 1.0;
    }
  }
  qsort(groups, num, sizeof *groups, by_place);
  return num;
}

static void draw_effect(canvas *c, double x, double y, const sweep_table *t, size_t input, size_t k, const scale *up)
{
  scale across;
  group groups[MOST_LEVELS];
  double line[MOST_LEVELS][2];
  make_input_scale(&across, t, input);
  const axes_frame f = frame_at(x, y, &across, up);
  draw_under(c, &f, &across, up);
  canvas_clip(c, f.x, f.y, f.width, f.height);
  for (size_t point = 0; point < t->num_points; point += stride_of(t)) {
    const double v = value_of(t, point, k), place = place_of(&across, t, point, input);
    if (!isnan(v) && !isnan(place))
      canvas_disc(c, axes_x(&f, place), axes_y(&f, v * up->scale), 5.0, DOT);
  }
  const size_t num = find_groups(t, &across, input, k, groups);
  for (size_t i = 0; i < num; i++) {
    line[i][0] = axes_x(&f, groups[i].place);
    line[i][1] = axes_y(&f, groups[i].sum / groups[i].num * up->scale);
    canvas_disc(c, line[i][0], line[i][1], 7.0, MEAN);
  }
  if (num > 1 && !across.is_word)
    canvas_polyline(c, (const double(*)[2])line, num, false, (canvas_pen){.ink = MEAN, .width = 3.0});
  canvas_unclip(c);
  draw_axes(c, &f, &across, up);
}

/* The figures that are drawn: goals first, then the rest of the report. */
static size_t choose_values(const sweep_table *t, size_t chosen[MOST_DOWN], scale scales[MOST_DOWN])
{
  size_t num = 0;
  for (size_t pass = 0; pass < 2; pass++)
    for (size_t k = 0; k < t->num_values && num < MOST_DOWN; k++) {
      const bool is_goal = k == sweep_table_goal(t, 0) || k == sweep_table_goal(t, 1);
      if (is_goal == (pass == 0) && make_value_scale(&scales[num], t, k))
        chosen[num++] = k;
    }
  return num;
}

static double cell_width(void) { return LEFT + PANEL_WIDTH + RIGHT; }
static double cell_height(void) { return ABOVE + PANEL_HEIGHT + BELOW; }

static void draw_heading(canvas *c, const char *title, const char *below)
{
  canvas_text(c, 35.0, 50.0, (canvas_style){.size = TITLE, .bold = true, .ink = INK}, title);
  canvas_text(c, 35.0, 96.0, (canvas_style){.size = TEXT, .ink = GREY}, below);
}

static status draw_effects(const sweep_table *t, const char *path, message *msg)
{
  size_t chosen[MOST_DOWN];
  scale *scales = calloc(MOST_DOWN, sizeof *scales);
  canvas *c = NULL;
  if (!scales)
    return message_set(msg, STATUS_NO_MEMORY, "out of memory for a picture");
  const size_t down = choose_values(t, chosen, scales), across = t->num_inputs < MOST_ACROSS ? t->num_inputs : MOST_ACROSS;
  status code = STATUS_OK;
  if (down > 0) {
    code = canvas_create(&c, path, fmax((double)across * cell_width(), 1000.0), 120.0 + (double)down * cell_height(), msg);
    if (code == STATUS_OK) {
      draw_heading(c, "What each input does", "one dot a point; orange: the mean over all points of about that value");
      for (size_t i = 0; i < down; i++)
        for (size_t j = 0; j < across; j++)
          draw_effect(c, (double)j * cell_width() + LEFT, 120.0 + (double)i * cell_height() + ABOVE, t, j, chosen[i], &scales[i]);
      code = canvas_finish(&c, msg);
    }
  }
  free(scales);
  return code;
}

/* ------------------------------------------------------------------------------------------------ pairs */

static void draw_pair(canvas *c, double x, double y, const sweep_table *t, size_t a, size_t b, size_t k, const scale *tone, const colour_map *map)
{
  scale across, up;
  make_input_scale(&across, t, a);
  make_input_scale(&up, t, b);
  const axes_frame f = frame_at(x, y, &across, &up);
  draw_under(c, &f, &across, &up);
  for (size_t point = 0; point < t->num_points; point += stride_of(t)) {
    const double v = value_of(t, point, k), px = place_of(&across, t, point, a), py = place_of(&up, t, point, b);
    if (isnan(px) || isnan(py))
      continue;
    if (isnan(v))
      canvas_ring(c, axes_x(&f, px), axes_y(&f, py), 8.0, (canvas_pen){.ink = GREY, .width = 2.0});
    else
      canvas_disc(c, axes_x(&f, px), axes_y(&f, py), 9.0, colour_map_at(map, 0.08 + 0.92 * (v * tone->scale - tone->low) / (tone->high - tone->low)));
  }
  draw_axes(c, &f, &across, &up);
}

static status draw_pairs(const sweep_table *t, const char *path, message *msg)
{
  const size_t num = t->num_inputs < 4 ? t->num_inputs : 4;
  const size_t k = t->s->plan->num_goals ? sweep_table_goal(t, 0) : 0;
  scale tone;
  canvas *c = NULL;
  colour_map map;
  if (num < 2 || !make_value_scale(&tone, t, k))
    return STATUS_OK;
  colour_map_fill(&map, COLOUR_MAP_TIME);
  const double side = (double)(num - 1);
  status code = canvas_create(&c, path, fmax(side * cell_width() + 220.0, 1000.0), 150.0 + side * cell_height(), msg);
  if (code != STATUS_OK)
    return code;
  draw_heading(c, "Two inputs together", "one dot a point, its colour the figure at the right; a ring: not known (failed, or not solid in time)");
  for (size_t b = 1; b < num; b++)
    for (size_t a = 0; a < b; a++)
      draw_pair(c, (double)a * cell_width() + LEFT, 130.0 + (double)(b - 1) * cell_height() + ABOVE, t, a, b, k, &tone, &map);
  const axes_bar bar = {.x = canvas_width(c) - 190.0, .y = 200.0, .width = 34.0, .height = PANEL_HEIGHT - 20.0, .low = tone.low, .high = tone.high,
                        .map_low = 0.08, .map_high = 1.0, .title = "", .text = TEXT};
  axes_draw_bar(c, &bar, &map);
  canvas_text(c, canvas_width(c) - 35.0, 165.0, (canvas_style){.size = TEXT, .ink = INK, .align = CANVAS_RIGHT}, tone.title);
  return canvas_finish(&c, msg);
}

/* ------------------------------------------------------------------------------------------------ the front */

static void draw_front_line(canvas *c, const axes_frame *f, const sweep_table *t, size_t a, size_t b, const scale *x, const scale *y)
{
  double(*line)[2] = malloc((t->num_ranked + 1) * sizeof *line);
  size_t num = 0;
  for (size_t i = 0; line && i < t->num_ranked; i++) {
    const size_t which = t->ranked[i];
    if (!t->front[which])
      continue;
    line[num][0] = axes_x(f, t->value[which * t->num_values + a] * x->scale);
    line[num][1] = axes_y(f, t->value[which * t->num_values + b] * y->scale);
    canvas_disc(c, line[num][0], line[num][1], 8.0, MEAN);
    num++;
  }
  if (num > 1)
    canvas_polyline(c, (const double(*)[2])line, num, false, (canvas_pen){.ink = MEAN, .width = 3.0});
  double last[2] = {-INFINITY, -INFINITY};
  for (size_t i = 0, n = 0; line && i < t->num_ranked; i++) {
    char text[32];
    if (!t->front[t->ranked[i]])
      continue;
    const double *at = line[n++];
    if (fabs(at[0] - last[0]) < 70.0 && fabs(at[1] - last[1]) < 30.0)
      continue; /* no room for its number */
    (void)snprintf(text, sizeof text, "%u", t->ranked[i]);
    canvas_text(c, at[0] + 14.0, at[1] - 16.0, (canvas_style){.size = TEXT, .ink = INK, .halo = {1.0, 1.0, 1.0, 1.0}}, text);
    memcpy(last, at, sizeof last);
  }
  free(line);
}

static status draw_front(const sweep_table *t, const char *path, message *msg)
{
  const size_t a = sweep_table_goal(t, 0), b = sweep_table_goal(t, 1);
  scale x, y;
  canvas *c = NULL;
  if (b == SIZE_MAX || !make_value_scale(&x, t, a) || !make_value_scale(&y, t, b))
    return STATUS_OK;
  status code = canvas_create(&c, path, 1400.0, 950.0, msg);
  if (code != STATUS_OK)
    return code;
  draw_heading(c, "The trade-off of two goals", "one dot a case; orange: the front, with the numbers of its cases. Of the others, some other case is better by both");
  const axes_frame f = {170.0, 140.0, 1180.0, 690.0, x.low, x.high, y.low, y.high};
  const axes_look look = {.across = x.title, .up = y.title, .most_across = 10, .most_up = 10, .text = 25.0};
  axes_draw_grid(c, &f, &look);
  for (size_t which = 0; which < t->num_cases; which += t->num_cases / MOST_DOTS + 1) {
    const double vx = t->value[which * t->num_values + a], vy = t->value[which * t->num_values + b];
    if (!isnan(vx) && !isnan(vy))
      canvas_disc(c, axes_x(&f, vx * x.scale), axes_y(&f, vy * y.scale), 6.0, DOT);
  }
  draw_front_line(c, &f, t, a, b, &x, &y);
  axes_draw(c, &f, &look);
  return canvas_finish(&c, msg);
}

/* ------------------------------------------------------------------------------------------------ all */

status picture_sweep_draw(const sweep_table *t, const char *directory, message *msg)
{
  static const struct {
    const char *name;
    status (*draw)(const sweep_table *t, const char *path, message *msg);
  } all[] = {{"main_effects.png", draw_effects}, {"pairs.png", draw_pairs}, {"front.png", draw_front}};
  char folder[WHOLE_FILE_PATH], path[WHOLE_FILE_PATH];
  status code = whole_file_join(folder, directory, "pictures", msg);
  if (code == STATUS_OK && mkdir(folder, 0777) != 0 && errno != EEXIST)
    code = whole_file_fault(msg, "make the directory", folder, errno);
  for (size_t i = 0; code == STATUS_OK && i < sizeof all / sizeof *all; i++) {
    code = whole_file_join(path, folder, all[i].name, msg);
    if (code == STATUS_OK)
      code = all[i].draw(t, path, msg);
  }
  return code;
}
