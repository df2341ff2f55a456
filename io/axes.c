#include "io/axes.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

static const colour INK = {0.13, 0.15, 0.18, 1.0};
static const colour PALE = {0.86, 0.88, 0.90, 1.0};
static const double TICK = 9.0; /* pixels */

axes_ticks axes_ticks_between(double low, double high, size_t most)
{
  axes_ticks t = {0};
  const double range = high - low;
  if (!isfinite(range) || !(range > 0.0) || most < 2)
    return t;
  static const double factors[] = {1.0, 2.0, 5.0};
  int power = (int)floor(log10(range / (double)most));
  for (size_t factor = 0;; factor++) {
    if (factor == 3) {
      factor = 0;
      power++;
    }
    /* A negative power by division: 0.1 as 1/10 is the nearest number to it, as 10^-1 need not be. */
    t.step = power >= 0 ? factors[factor] * pow(10.0, power) : factors[factor] / pow(10.0, -power);
    const double slack = 1e-9 * range / t.step; /* an end that is a round value counts, rounding or not */
    t.first = ceil(low / t.step - slack);
    const double last = floor(high / t.step + slack);
    t.num = last >= t.first ? (size_t)(last - t.first + 1.0) : 0;
    t.decimals = power < 0 ? -power : 0;
    if (t.num <= most)
      return t;
  }
}

double axes_tick(const axes_ticks *t, size_t i) { return (t->first + (double)i) * t->step; }

void axes_number(double value, int decimals, char *text, size_t size)
{
  char plain[64];
  (void)snprintf(plain, sizeof plain, "%.*f", decimals, fabs(value));
  const bool zero = strspn(plain, "0.") == strlen(plain);
  (void)snprintf(text, size, "%s%s", value < 0.0 && !zero ? "\xE2\x88\x92" : "", plain);
}

double axes_x(const axes_frame *f, double value) { return f->x + f->width * (value - f->left) / (f->right - f->left); }
double axes_y(const axes_frame *f, double value) { return f->y + f->height * (f->top - value) / (f->top - f->bottom); }

static double scale_of(const axes_look *look) { return look->scale != 0.0 ? look->scale : 1.0; }

void axes_draw_grid(canvas *c, const axes_frame *f, const axes_look *look)
{
  const double scale = scale_of(look);
  const axes_ticks across = axes_ticks_between(f->left * scale, f->right * scale, look->most_across);
  const axes_ticks up = axes_ticks_between(f->bottom * scale, f->top * scale, look->most_up);
  const canvas_pen pen = {.ink = PALE, .width = 1.5};
  for (size_t i = 0; i < across.num; i++) {
    const double x = axes_x(f, axes_tick(&across, i) / scale);
    canvas_line(c, x, f->y, x, f->y + f->height, pen);
  }
  for (size_t i = 0; i < up.num; i++) {
    const double y = axes_y(f, axes_tick(&up, i) / scale);
    canvas_line(c, f->x, y, f->x + f->width, y, pen);
  }
}

static void draw_across(canvas *c, const axes_frame *f, const axes_look *look)
{
  const double scale = scale_of(look), low = f->y + f->height;
  const canvas_style style = {.size = look->text, .ink = INK, .align = CANVAS_CENTRE};
  const canvas_pen pen = {.ink = INK, .width = 2.0};
  const axes_ticks t = axes_ticks_between(f->left * scale, f->right * scale, look->most_across);
  for (size_t i = 0; i < t.num; i++) {
    char text[80];
    const double value = axes_tick(&t, i), x = axes_x(f, value / scale);
    canvas_line(c, x, low, x, low + TICK, pen);
    axes_number(look->unsigned_across ? fabs(value) : value, t.decimals, text, sizeof text);
    canvas_text(c, x, low + TICK + 0.8 * look->text, style, text);
  }
  canvas_text(c, f->x + 0.5 * f->width, low + TICK + 2.2 * look->text, style, look->across);
}

static void draw_up(canvas *c, const axes_frame *f, const axes_look *look)
{
  const double scale = scale_of(look);
  canvas_style style = {.size = look->text, .ink = INK, .align = CANVAS_RIGHT};
  const canvas_pen pen = {.ink = INK, .width = 2.0};
  const axes_ticks t = axes_ticks_between(f->bottom * scale, f->top * scale, look->most_up);
  double widest = 0.0;
  for (size_t i = 0; i < t.num; i++) {
    char text[80];
    const double value = axes_tick(&t, i), y = axes_y(f, value / scale);
    canvas_line(c, f->x - TICK, y, f->x, y, pen);
    axes_number(value, t.decimals, text, sizeof text);
    canvas_text(c, f->x - TICK - 0.3 * look->text, y, style, text);
    widest = fmax(widest, canvas_text_width(c, style, text));
  }
  style.align = CANVAS_CENTRE;
  style.turn = 90.0;
  canvas_text(c, f->x - TICK - widest - 1.1 * look->text, f->y + 0.5 * f->height, style, look->up);
}

void axes_draw(canvas *c, const axes_frame *f, const axes_look *look)
{
  canvas_frame(c, f->x, f->y, f->width, f->height, (canvas_pen){.ink = INK, .width = 2.0});
  if (look->across)
    draw_across(c, f, look);
  if (look->up)
    draw_up(c, f, look);
}

void axes_draw_bar(canvas *c, const axes_bar *b, const colour_map *map)
{
  uint32_t pixels[COLOUR_MAP_SIZE];
  for (size_t i = 0; i < COLOUR_MAP_SIZE; i++) {
    const double share = 1.0 - (double)i / (COLOUR_MAP_SIZE - 1);
    pixels[i] = canvas_pixel(colour_map_at(map, b->map_low + share * (b->map_high - b->map_low)));
  }
  canvas_image(c, pixels, 1, COLOUR_MAP_SIZE, b->x, b->y, b->width, b->height);
  const canvas_pen pen = {.ink = INK, .width = 2.0};
  canvas_frame(c, b->x, b->y, b->width, b->height, pen);
  const axes_frame frame = {b->x, b->y, b->width, b->height, 0.0, 1.0, b->low, b->high};
  const axes_ticks t = axes_ticks_between(b->low, b->high, 9);
  canvas_style style = {.size = b->text, .ink = INK};
  for (size_t i = 0; i < t.num; i++) {
    char text[80];
    const double y = axes_y(&frame, axes_tick(&t, i));
    canvas_line(c, b->x + b->width, y, b->x + b->width + TICK, y, pen);
    axes_number(axes_tick(&t, i), t.decimals, text, sizeof text);
    canvas_text(c, b->x + b->width + TICK + 0.3 * b->text, y, style, text);
  }
  canvas_text(c, b->x, b->y - b->text, style, b->title);
}
