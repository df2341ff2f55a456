#include "io/picture_charts.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "io/axes.h"
#include "io/cold_table.h"
#include "io/plain_words.h"

static const colour INK = {0.13, 0.15, 0.18, 1.0};
static const colour GREY = {0.36, 0.39, 0.43, 1.0};
/* Lines of bodies: apart in lightness as well as in hue. */
static const colour LINES[] = {{0.00, 0.33, 0.62, 1.0}, {0.84, 0.37, 0.00, 1.0}, {0.30, 0.62, 0.50, 1.0}, {0.45, 0.25, 0.55, 1.0}};
enum { NUM_LINES = 4 };
static const double WIDTH = 1600.0, EDGE = 35.0, TITLE = 34.0, TEXT = 25.0, SMALL = 22.0;

static canvas_style words(void) { return (canvas_style){.size = TEXT, .ink = INK}; }

static void draw_title(canvas *c, const char *title)
{
  canvas_text(c, EDGE, 50.0, (canvas_style){.size = TITLE, .bold = true, .ink = INK}, title);
}

/* ------------------------------------------------------------------------------------------------ against time */

static bool ends_with(const char *text, const char *end)
{
  const size_t a = strlen(text), b = strlen(end);
  return a >= b && strcmp(text + a - b, end) == 0;
}

static double entry(const time_series *s, size_t row, size_t column) { return s->values[row * s->num_columns + column]; }

/* One column against hours, broken where it has no value. */
static void draw_column(canvas *c, const axes_frame *f, const time_series *s, size_t column, double scale, canvas_pen pen)
{
  double(*points)[2] = malloc((s->num_rows + 1) * sizeof *points);
  if (!points)
    return;
  size_t num = 0;
  for (size_t row = 0; row <= s->num_rows; row++) {
    const double value = row < s->num_rows ? entry(s, row, column) : NAN;
    if (isfinite(value)) {
      points[num][0] = axes_x(f, entry(s, row, 0) / 3600.0);
      points[num++][1] = axes_y(f, value * scale);
      continue;
    }
    if (num > 1)
      canvas_polyline(c, (const double(*)[2])points, num, false, pen);
    num = 0;
  }
  free(points);
}

/* Lowest and highest value of a column; false when it has none. */
static bool column_range(const time_series *s, size_t column, double *low, double *high)
{
  *low = INFINITY;
  *high = -INFINITY;
  for (size_t row = 0; row < s->num_rows; row++)
    if (isfinite(entry(s, row, column))) {
      *low = fmin(*low, entry(s, row, column));
      *high = fmax(*high, entry(s, row, column));
    }
  return *low <= *high;
}

/* s from time zero: when the freeze that a body's marks count from began. */
static double freeze_start(const results *res)
{
  for (size_t i = 0; i < res->num_stages; i++)
    if (res->stages[i].kind == STAGE_FREEZE)
      return res->stages[i].start_at;
  return 0.0;
}

static const body_result *body_named(const results *res, const char *column)
{
  for (size_t i = 0; i < res->num_bodies; i++) {
    const size_t length = strlen(res->bodies[i].name);
    if (strncmp(column, res->bodies[i].name, length) == 0 && column[length] == '.')
      return &res->bodies[i];
  }
  return NULL;
}

/* Dots on the curve at 50, 90, 99 and 100 %, each told in the column beside the chart. */
static double draw_marks(canvas *c, const axes_frame *f, const body_result *body, double start, colour ink, double y)
{
  static const double share[4] = {50.0, 90.0, 99.0, 100.0};
  const double x = f->x + f->width + 40.0;
  char text[160], value[PLAIN_WORDS];
  const canvas_style name = {.size = TEXT, .bold = true, .ink = INK};
  canvas_line(c, x, y, x + 34.0, y, (canvas_pen){.ink = ink, .width = 4.0});
  canvas_fit_text(c, name, body->name, WIDTH - EDGE - x - 46.0, text, sizeof text);
  canvas_text(c, x + 46.0, y, name, text);
  y += 38.0;
  canvas_text(c, x, y, (canvas_style){.size = SMALL, .ink = GREY}, "from the start of freezing");
  y += 38.0;
  for (int i = 0; i < 4; i++) {
    const double at = i < 3 ? body->mark[i] : body->complete ? body->freeze_time : NAN;
    if (!isfinite(at))
      continue;
    const double px = axes_x(f, (at + start) / 3600.0), py = axes_y(f, share[i]);
    canvas_disc(c, px, py, 9.0, (colour){1.0, 1.0, 1.0, 1.0});
    canvas_ring(c, px, py, 7.0, (canvas_pen){.ink = ink, .width = 4.0});
    plain_words_duration(at, value);
    (void)snprintf(text, sizeof text, "%.0f %%", share[i]);
    canvas_text(c, x + 110.0, y, (canvas_style){.size = TEXT, .ink = INK, .align = CANVAS_RIGHT}, text);
    canvas_text(c, x + 128.0, y, words(), value);
    y += 36.0;
  }
  if (!body->complete) {
    plain_words_value(100.0 * body->fraction, 3, "%", value);
    (void)snprintf(text, sizeof text, "not solid: %s at the end", value);
    canvas_text(c, x, y, words(), text);
    y += 36.0;
  }
  return y + 24.0;
}

static void draw_shares(canvas *c, const axes_frame *f, const results *res)
{
  const time_series *s = &res->series;
  double y = f->y + 14.0;
  size_t line = 0;
  for (size_t column = 1; column < s->num_columns; column++) {
    if (!ends_with(s->name[column], ".frozen_share"))
      continue;
    const colour ink = LINES[line++ % NUM_LINES];
    draw_column(c, f, s, column, 100.0, (canvas_pen){.ink = ink, .width = 4.0});
    const body_result *body = body_named(res, s->name[column]);
    if (body)
      y = draw_marks(c, f, body, freeze_start(res), ink, y);
  }
}

static void draw_coolant(canvas *c, axes_frame f, const time_series *s, size_t column)
{
  double low, high;
  if (!column_range(s, column, &low, &high))
    return;
  const double margin = fmax(0.1 * (high - low), 1.0);
  f.bottom = floor(low - margin);
  f.top = ceil(high + margin);
  const axes_look look = {.across = "time from the start, h", .up = "coolant, \xC2\xB0" "C", .most_across = 10, .most_up = 5,
                          .text = TEXT};
  axes_draw_grid(c, &f, &look);
  canvas_clip(c, f.x, f.y, f.width, f.height);
  draw_column(c, &f, s, column, 1.0, (canvas_pen){.ink = LINES[3], .width = 4.0});
  canvas_unclip(c);
  axes_draw(c, &f, &look);
  char text[PLAIN_WORDS + 16], value[PLAIN_WORDS];
  plain_words_value(entry(s, s->num_rows - 1, column), 3, "degC", value);
  (void)snprintf(text, sizeof text, "%s at the end", value);
  const double x = f.x + f.width + 40.0;
  canvas_line(c, x, f.y + 14.0, x + 34.0, f.y + 14.0, (canvas_pen){.ink = LINES[3], .width = 4.0});
  canvas_text(c, x + 46.0, f.y + 14.0, (canvas_style){.size = TEXT, .bold = true, .ink = INK}, "coolant in the coil");
  canvas_text(c, x, f.y + 54.0, words(), text);
}

status picture_charts_frozen_share(const char *path, const results *res, message *msg)
{
  const time_series *s = &res->series;
  size_t coolant = 0;
  for (size_t column = 1; column < s->num_columns; column++)
    if (strcmp(s->name[column], "coolant.temperature") == 0)
      coolant = column;
  if (s->num_rows < 1 || s->num_columns < 1)
    return message_set(msg, STATUS_BAD_INPUT, "%s: there is no series to draw", path);
  canvas *c = NULL;
  const status code = canvas_create(&c, path, WIDTH, coolant ? 1180.0 : 830.0, msg);
  if (code != STATUS_OK)
    return code;
  draw_title(c, "Frozen share of the water against time");
  const double end = entry(s, s->num_rows - 1, 0) / 3600.0;
  const axes_frame f = {150.0, 110.0, 1010.0, 600.0, 0.0, end > 0.0 ? end : 1.0, 0.0, 103.0};
  const axes_look look = {.across = coolant ? NULL : "time from the start, h", .up = "frozen share, %", .most_across = 10, .most_up = 11,
                          .text = TEXT};
  axes_draw_grid(c, &f, &look);
  axes_draw(c, &f, &look);
  draw_shares(c, &f, res);
  if (coolant)
    draw_coolant(c, (axes_frame){f.x, 770.0, f.width, 270.0, f.left, f.right, 0.0, 1.0}, s, coolant);
  return canvas_finish(&c, msg);
}

/* ------------------------------------------------------------------------------------------------ where the cold went */

static const double J_PER_KWH = 3.6e6;

static double draw_bars(canvas *c, const char *heading, const cold_row *rows, size_t num, double longest, colour ink, double y)
{
  const double name_x = EDGE, bar_x = 560.0, room = WIDTH - bar_x - 420.0;
  canvas_text(c, name_x, y, (canvas_style){.size = TEXT, .bold = true, .ink = INK}, heading);
  y += 50.0;
  for (size_t i = 0; i < num; i++) {
    char text[3 * PLAIN_WORDS], value[PLAIN_WORDS], mean[PLAIN_WORDS];
    const double length = room * rows[i].joules / longest;
    canvas_fit_text(c, words(), rows[i].name, bar_x - name_x - 24.0, text, 160);
    canvas_text(c, bar_x - 18.0, y, (canvas_style){.size = TEXT, .ink = INK, .align = CANVAS_RIGHT}, text);
    canvas_box(c, bar_x, y - 17.0, fmax(length, 1.5), 34.0, ink);
    plain_words_value(rows[i].joules / J_PER_KWH, 3, "kWh", value);
    plain_words_value(rows[i].watts, 3, "W", mean);
    (void)snprintf(text, sizeof text, isfinite(rows[i].watts) ? "%s, %.1f %%, %s" : "%s, %.1f %%", value, 100.0 * rows[i].share, mean);
    canvas_text(c, bar_x + fmax(length, 1.5) + 14.0, y, words(), text);
    y += 48.0;
  }
  return y + 26.0;
}

static void draw_ledger(canvas *c, const heat_ledger *ledger, const cold_table *t)
{
  char text[256], value[PLAIN_WORDS];
  double longest = 1e-300;
  if (t->num_from)
    longest = fmax(longest, t->from[0].joules);
  if (t->num_into)
    longest = fmax(longest, t->into[0].joules);
  draw_title(c, "Where the cold went");
  plain_words_value(t->total / J_PER_KWH, 3, "kWh", value);
  (void)snprintf(text, sizeof text, "%s in all, all stages; shares are of that, watts the mean over the whole time", value);
  canvas_text(c, EDGE, 98.0, (canvas_style){.size = TEXT, .ink = GREY}, text);
  double y = draw_bars(c, "It came from", t->from, t->num_from, longest, LINES[0], 160.0);
  y = draw_bars(c, "It went into", t->into, t->num_into, longest, LINES[2], y);
  (void)snprintf(text, sizeof text, "The two sums agree to %.1e of the heat moved.", fabs(ledger->residual_relative));
  canvas_text(c, EDGE, y, (canvas_style){.size = SMALL, .ink = GREY}, text);
}

status picture_charts_ledger(const char *path, const results *res, message *msg)
{
  cold_table t;
  status code = cold_table_make(&t, &res->ledger, cold_table_seconds(res), msg);
  if (code != STATUS_OK)
    return code;
  const size_t num = t.num_from + t.num_into;
  canvas *c = NULL;
  if (num == 0)
    code = message_set(msg, STATUS_BAD_INPUT, "%s: the ledger is empty", path);
  if (code == STATUS_OK)
    code = canvas_create(&c, path, WIDTH, 160.0 + 2.0 * 76.0 + 48.0 * (double)num + 50.0, msg);
  if (code == STATUS_OK) {
    draw_ledger(c, &res->ledger, &t);
    code = canvas_finish(&c, msg);
  }
  cold_table_release(&t);
  return code;
}
