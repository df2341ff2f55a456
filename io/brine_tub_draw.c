/* The picture of a tub of brine. */
#include <math.h>
#include <stdio.h>

#include "io/axes.h"
#include "io/brine_tub.h"
#include "solver/verdict.h"

static const colour INK = {0.13, 0.15, 0.18, 1.0}, GREY = {0.36, 0.39, 0.43, 1.0}, LINE = {0.00, 0.33, 0.62, 1.0};
static const colour BAND[3] = {{0.93, 0.97, 0.95, 1.0}, {0.99, 0.95, 0.86, 1.0}, {0.97, 0.90, 0.89, 1.0}};
static const double WIDTH = 1600.0, HEIGHT = 900.0, TEXT = 25.0, SMALL = 22.0;
enum { POINTS = 300 };

static double ice_at(const brine_tub *t, double temperature)
{
  return brine_ice_fraction(t->grade.salt, t->liquidus, t->strength, temperature);
}

/* Limits of free, stiff and locked; names: drawn over the grid, on the side that the curve leaves free. */
static void draw_bands(canvas *c, const axes_frame *f, const brine_tub *t, bool names)
{
  static const double edge[4] = {0.0, VERDICT_STIFF, VERDICT_LOCKED, 1.0};
  static const char *const name[3] = {"free: the mould draws", "stiff: twist or warm it first", "locked: only melting lets it go"};
  for (int i = 0; i < 3; i++) {
    const double low = axes_y(f, 100.0 * edge[i]), high = axes_y(f, fmin(100.0 * edge[i + 1], f->top));
    const bool right = ice_at(t, f->right - 0.3 * (f->right - f->left)) < edge[i];
    if (high >= low)
      continue;
    if (!names)
      canvas_box(c, f->x, high, f->width, low - high, BAND[i]);
    else if (low - high > 30.0)
      canvas_text(c, right ? f->x + f->width - 14.0 : f->x + 14.0, 0.5 * (low + high),
                  (canvas_style){.size = SMALL, .ink = GREY, .align = right ? CANVAS_RIGHT : CANVAS_LEFT, .halo = BAND[i]}, name[i]);
  }
}

static void draw_curve(canvas *c, const axes_frame *f, const brine_tub *t, double end)
{
  double points[POINTS + 1][2];
  for (int i = 0; i <= POINTS; i++) {
    const double at = t->onset + (end - t->onset) * i / POINTS;
    points[i][0] = axes_x(f, at);
    points[i][1] = axes_y(f, 100.0 * ice_at(t, at));
  }
  canvas_polyline(c, (const double(*)[2])points, POINTS + 1, false, (canvas_pen){.ink = LINE, .width = 5.0});
  canvas_line(c, axes_x(f, f->right), axes_y(f, 0.0), points[0][0], points[0][1], (canvas_pen){.ink = LINE, .width = 5.0});
}

status brine_tub_draw(const brine_tub *t, const char *path, message *msg)
{
  const double end = fmax(brine_onset(t->grade.salt, t->liquidus, brine_eutectic(t->grade.salt).mass_fraction) + 1e-6, t->onset - 30.0);
  const double most = 100.0 * ice_at(t, end);
  char text[200];
  canvas *c = NULL;
  const status code = canvas_create(&c, path, WIDTH, HEIGHT, msg);
  if (code != STATUS_OK)
    return code;
  const axes_frame f = {150.0, 140.0, WIDTH - 220.0, HEIGHT - 250.0, floor(end), fmin(0.0, ceil(t->onset + 3.0)), 0.0, fmax(45.0, 10.0 * ceil(0.1 * most + 0.2))};
  const axes_look look = {.across = "temperature of the brine, \xC2\xB0" "C", .up = "ice, % by mass", .most_across = 12, .most_up = 10, .text = TEXT};
  canvas_text(c, 35.0, 50.0, (canvas_style){.size = 34.0, .bold = true, .ink = INK}, "Ice in the brine against temperature");
  (void)snprintf(text, sizeof text, "%s, %.1f %%; starts to freeze at %s%.1f \xC2\xB0" "C", brine_name(t->grade.salt), 100.0 * t->strength,
                 t->onset < 0.0 ? "\xE2\x88\x92" : "", fabs(t->onset));
  canvas_text(c, 35.0, 98.0, (canvas_style){.size = TEXT, .ink = GREY}, text);
  draw_bands(c, &f, t, false);
  axes_draw_grid(c, &f, &look);
  draw_bands(c, &f, t, true);
  canvas_clip(c, f.x, f.y, f.width, f.height);
  draw_curve(c, &f, t, end);
  canvas_unclip(c);
  axes_draw(c, &f, &look);
  return canvas_finish(&c, msg);
}
