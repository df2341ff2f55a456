#include "io/picture_fit.h"

#include <math.h>
#include <stdlib.h>

#include "io/axes.h"

static const colour INK = {0.13, 0.15, 0.18, 1.0}, GREY = {0.36, 0.39, 0.43, 1.0}, PALE = {0.93, 0.94, 0.95, 1.0};
static const colour LINES[] = {{0.00, 0.33, 0.62, 1.0}, {0.84, 0.37, 0.00, 1.0}, {0.30, 0.62, 0.50, 1.0}, {0.45, 0.25, 0.55, 1.0}};
enum { NUM_LINES = 4 };
static const double TEXT = 25.0;

typedef struct {
  const fit_model *m;
  const double *predictions;
  const unsigned char *outlier;
} drawing;

static double measured(const drawing *d, size_t row, size_t probe) { return d->m->log->value[row * d->m->log->num_columns + d->m->column[probe]]; }
static double predicted(const drawing *d, size_t row, size_t probe) { return d->predictions[row * d->m->num_probes + probe]; }

static void find_range(const drawing *d, double *low, double *high)
{
  *low = INFINITY;
  *high = -INFINITY;
  for (size_t i = 0; i < d->m->log->num_rows; i++)
    for (size_t p = 0; p < d->m->num_probes; p++) {
      const double both[2] = {d->outlier[i * d->m->num_probes + p] ? NAN : measured(d, i, p), predicted(d, i, p)};
      for (int k = 0; k < 2; k++)
        if (!isnan(both[k])) {
          *low = fmin(*low, both[k]);
          *high = fmax(*high, both[k]);
        }
    }
  const double room = fmax(0.06 * (*high - *low), 0.5);
  *low -= room;
  *high += room;
}

static void draw_lines(canvas *c, const axes_frame *f, const drawing *d, size_t probe)
{
  double(*points)[2] = malloc((d->m->log->num_rows + 1) * sizeof *points);
  const colour ink = LINES[probe % NUM_LINES];
  size_t num = 0;
  for (size_t i = 0; points && i < d->m->log->num_rows; i++)
    if (!isnan(predicted(d, i, probe))) {
      points[num][0] = axes_x(f, d->m->log->time[i] / 3600.0);
      points[num++][1] = axes_y(f, predicted(d, i, probe));
    }
  if (num > 1)
    canvas_polyline(c, (const double(*)[2])points, num, false, (canvas_pen){.ink = ink, .width = 3.0});
  free(points);
}

/* away: the distance from the model instead of the value itself. Outliers are rings, at the edge where they lie beyond it. */
static void draw_dots(canvas *c, const axes_frame *f, const drawing *d, size_t probe, bool away)
{
  colour ink = LINES[probe % NUM_LINES];
  ink.alpha = 0.6;
  for (size_t i = 0; i < d->m->log->num_rows; i++) {
    double v = measured(d, i, probe) - (away ? predicted(d, i, probe) : 0.0);
    if (isnan(v))
      continue;
    const double x = axes_x(f, d->m->log->time[i] / 3600.0);
    if (d->outlier[i * d->m->num_probes + probe])
      canvas_ring(c, x, axes_y(f, fmin(fmax(v, f->bottom), f->top)), 7.0, (canvas_pen){.ink = LINES[probe % NUM_LINES], .width = 2.5});
    else
      canvas_disc(c, x, axes_y(f, v), 4.5, ink);
  }
}

static void draw_values(canvas *c, const axes_frame *f, const drawing *d)
{
  const axes_look look = {.up = "temperature, \xC2\xB0" "C", .most_across = 10, .most_up = 9, .text = TEXT};
  axes_draw_grid(c, f, &look);
  canvas_clip(c, f->x, f->y, f->width, f->height);
  for (size_t p = 0; p < d->m->num_probes; p++) {
    draw_dots(c, f, d, p, false);
    draw_lines(c, f, d, p);
  }
  canvas_unclip(c);
  axes_draw(c, f, &look);
  for (size_t p = 0; p < d->m->num_probes && p < 16; p++) {
    const double y = f->y + 16.0 + 40.0 * (double)p, x = f->x + f->width + 30.0;
    canvas_line(c, x, y, x + 34.0, y, (canvas_pen){.ink = LINES[p % NUM_LINES], .width = 4.0});
    canvas_text(c, x + 44.0, y, (canvas_style){.size = TEXT, .ink = INK}, d->m->log->name[d->m->column[p]]);
  }
}

static void draw_residuals(canvas *c, const axes_frame *f, const drawing *d, double scatter)
{
  const axes_look look = {.across = "time in the log, h", .up = "measured less model, K", .most_across = 10, .most_up = 7, .text = TEXT};
  const double top = axes_y(f, 2.0 * scatter), bottom = axes_y(f, -2.0 * scatter);
  canvas_box(c, f->x, top, f->width, bottom - top, PALE);
  axes_draw_grid(c, f, &look);
  canvas_line(c, f->x, axes_y(f, 0.0), f->x + f->width, axes_y(f, 0.0), (canvas_pen){.ink = GREY, .width = 2.0});
  for (size_t p = 0; p < d->m->num_probes; p++)
    draw_dots(c, f, d, p, true);
  axes_draw(c, f, &look);
}

status picture_fit_draw(const char *path, const fit_model *m, const double *predictions, const unsigned char *outlier, double scatter, message *msg)
{
  const drawing d = {m, predictions, outlier};
  canvas *c = NULL;
  double low, high;
  const status code = canvas_create(&c, path, 1600.0, 1250.0, msg);
  if (code != STATUS_OK)
    return code;
  find_range(&d, &low, &high);
  const double end = m->log->time[m->log->num_rows - 1] / 3600.0, begin = fmin(0.0, m->log->time[0] / 3600.0);
  canvas_text(c, 35.0, 50.0, (canvas_style){.size = 34.0, .bold = true, .ink = INK}, "The thermometers and the fitted case");
  canvas_text(c, 35.0, 96.0, (canvas_style){.size = 22.0, .ink = GREY}, "dots: measured; lines: the case; rings: outliers, left out; grey band: twice the scatter");
  const axes_frame above = {160.0, 140.0, 1180.0, 560.0, begin, end, low, high};
  const double reach = fmax(5.0 * scatter, 1e-3);
  const axes_frame below = {160.0, 770.0, 1180.0, 360.0, begin, end, -reach, reach};
  draw_values(c, &above, &d);
  draw_residuals(c, &below, &d, scatter);
  return canvas_finish(&c, msg);
}
