#include "io/clear_words.h"

#include <math.h>
#include <stdio.h>

#include "io/plain_words.h"
#include "io/sentence.h"

static const double M_PER_INCH = 0.0254, MM_PER_HOUR = 3.6e6; /* of m/s */
static const double WATER_DENSITY = 999.8;                    /* kg/m3 at 0 degC */
static const double PAYS = 0.02;                              /* of the ice */
static const double FROM_THE_FIRST = 0.005;                   /* frozen share: what is told as 0 %     */

static void size_of_piece(const double *m, bool revolved, char text[CLEAR_WORDS])
{
  if (revolved)
    (void)snprintf(text, CLEAR_WORDS, "%.0f mm across, %.0f mm high", 2e3 * m[0], 1e3 * m[2]);
  else
    (void)snprintf(text, CLEAR_WORDS, "%.0f x %.0f x %.0f mm", 1e3 * m[0], 1e3 * m[1], 1e3 * m[2]);
}

void clear_words_piece(const clear_result *c, bool revolved, char text[CLEAR_WORDS]) { size_of_piece(c->piece_size, revolved, text); }

bool clear_words_exchange_pays(const clear_result *c) { return c->renewed_fraction - c->fraction >= PAYS; /* false for NAN */ }

/* Both ends of the band; a file that does not hold them says nothing. */
static void say_other_pieces(sentence *s, const clear_result *c, bool revolved)
{
  char size[CLEAR_WORDS];
  if (isnan(c->piece_smallest[0]) || isnan(c->piece_largest[0]))
    return;
  sentence_say(s, " If bubbles form sooner, ");
  size_of_piece(c->piece_smallest, revolved, size);
  sentence_say(s, "%s; if later, ", c->piece_smallest[0] > 0.0 ? size : "none");
  size_of_piece(c->piece_largest, revolved, size);
  sentence_say(s, "%s.", c->piece_largest[0] > 0.0 ? size : "none");
}

static void say_piece(sentence *s, const clear_result *c, bool revolved)
{
  const double *m = c->piece_size;
  char size[CLEAR_WORDS];
  if (!(c->piece_volume > 0.0)) {
    sentence_say(s, " No clear piece can be sawn out.");
    return;
  }
  clear_words_piece(c, revolved, size);
  if (revolved)
    sentence_say(s, " Largest clear piece about the axis: %s (%.1f x %.1f in); cut at z = %.0f and %.0f mm.", size, 2.0 * m[0] / M_PER_INCH,
        m[2] / M_PER_INCH, 1e3 * c->piece_low[2], 1e3 * c->piece_high[2]);
  else
    sentence_say(s, " Largest clear box: %s (%.1f x %.1f x %.1f in), from x = %.0f, y = %.0f, z = %.0f to %.0f, %.0f, %.0f mm.", size, m[0] / M_PER_INCH,
        m[1] / M_PER_INCH, m[2] / M_PER_INCH, 1e3 * c->piece_low[0], 1e3 * c->piece_low[1], 1e3 * c->piece_low[2], 1e3 * c->piece_high[0],
        1e3 * c->piece_high[1], 1e3 * c->piece_high[2]);
}

void clear_words_shares(const body_result *b, bool revolved, char text[CLEAR_WORDS])
{
  const clear_result *c = &b->clear;
  char time[PLAIN_WORDS];
  sentence s = sentence_begin(text, CLEAR_WORDS);
  if (!isfinite(c->fraction))
    return;
  sentence_say(&s, "Of its ice %.0f %% is clear (%.0f to %.0f %%: how soon bubbles form is uncertain), %.0f %% hazy, %.0f %% white", 100.0 * c->fraction,
      100.0 * fmin(c->fraction_low, c->fraction), 100.0 * fmax(c->fraction_high, c->fraction), 100.0 * c->hazy_fraction, 100.0 * c->white_fraction);
  if (isfinite(c->white_low) && isfinite(c->white_high))
    sentence_say(&s, " (%.0f to %.0f %%)", 100.0 * fmin(c->white_low, c->white_fraction), 100.0 * fmax(c->white_high, c->white_fraction));
  if (c->onset_share >= FROM_THE_FIRST) { /* false for NAN */
    plain_words_duration(c->onset_time, time);
    sentence_say(&s, "; first bubbles after %s, with %.0f %% frozen", time, 100.0 * c->onset_share);
  } else if (isfinite(c->onset_time)) {
    sentence_say(&s, "; bubbles from the first ice on");
  }
  sentence_say(&s, ".");
  say_piece(&s, c, revolved);
  say_other_pieces(&s, c, revolved);
}

/* When to stop if bubbles form sooner or later than likely. */
static void say_other_stops(sentence *s, const clear_result *c)
{
  char time[PLAIN_WORDS];
  if (isfinite(c->stop_time_low) && c->stop_time_low < c->stop_time) {
    plain_words_duration(c->stop_time_low, time);
    sentence_say(s, "; if bubbles form sooner, after %s", time);
  }
  if (isfinite(c->stop_time_high) && c->stop_time_high > c->stop_time) {
    plain_words_duration(c->stop_time_high, time);
    sentence_say(s, "; if bubbles form later, after %s", time);
  }
}

void clear_words_advice(const body_result *b, char text[CLEAR_WORDS])
{
  const clear_result *c = &b->clear;
  char time[PLAIN_WORDS], volume[PLAIN_WORDS];
  sentence s = sentence_begin(text, CLEAR_WORDS);
  if (isfinite(c->stop_time)) {
    plain_words_duration(c->stop_time, time);
    sentence_say(&s, "To keep only clear ice, stop after %s (%.0f %% frozen", time, 100.0 * c->stop_share);
    say_other_stops(&s, c);
    sentence_say(&s, ") and pour off the rest. ");
  }
  if (isfinite(c->renewed_fraction)) {
    plain_words_duration(c->renew_time, time);
    plain_words_volume((1.0 - c->renew_share) * b->mass / WATER_DENSITY, volume);
    const bool then = c->renew_time == c->stop_time;
    sentence_say(&s, "Exchanging the core water %s%s, %s, %s: %.0f %% clear. ", then ? "" : "after ", then ? "then" : time, volume,
        clear_words_exchange_pays(c) ? "pays" : "does not pay", 100.0 * c->renewed_fraction);
  }
  if (isfinite(c->salt_share))
    sentence_say(&s, "Minerals grey the ice from %.0f %% frozen on. ", 100.0 * c->salt_share);
  if (s.used > 0)
    s.text[s.used - 1] = '\0'; /* the last blank */
}

static void say_white(sentence *s, const clear_result *c, bool revolved)
{
  const double *low = c->white_from, *high = c->white_to;
  if (isnan(c->white_position[0]))
    return;
  if (revolved)
    sentence_say(s, " Nine tenths of the white: r %.0f to %.0f, z %.0f to %.0f mm.", 1e3 * low[0], 1e3 * high[0], 1e3 * low[2], 1e3 * high[2]);
  else
    sentence_say(s, " Nine tenths of the white: x %.0f to %.0f, y %.0f to %.0f, z %.0f to %.0f mm.", 1e3 * low[0], 1e3 * high[0], 1e3 * low[1], 1e3 * high[1],
        1e3 * low[2], 1e3 * high[2]);
}

static void say_growth(sentence *s, const clear_result *c)
{
  static const int tenth[3] = {0, 4, 7};
  const double *v = c->growth_speed, *limit = c->growth_limit;
  if (!isnan(v[tenth[2]]) && !isnan(limit[tenth[2]]))
    sentence_say(s, " Growth in tenths %d, %d, %d of the freeze: %.1f, %.1f, %.1f mm/h; clear up to %.1f, %.1f, %.1f.", tenth[0] + 1, tenth[1] + 1, tenth[2] + 1,
        MM_PER_HOUR * v[tenth[0]], MM_PER_HOUR * v[tenth[1]], MM_PER_HOUR * v[tenth[2]], MM_PER_HOUR * limit[tenth[0]],
        MM_PER_HOUR * limit[tenth[1]], MM_PER_HOUR * limit[tenth[2]]);
}

/* What is left of the contrast of a mark behind the block: exp(-optical depth). */
static void say_view(sentence *s, const char *way, double depth)
{
  if (isfinite(depth))
    sentence_say(s, " %s, %.0f %% of a mark's contrast is left%s.", way, 100.0 * exp(-depth),
        depth < 0.1 ? " (clear)" : depth > 3.0 ? " (white: no view)" : depth > 0.7 ? " (hazy)" : " (slight haze or streaks)");
}

void clear_words_place(const body_result *b, bool revolved, char text[CLEAR_WORDS])
{
  const clear_result *c = &b->clear;
  sentence s = sentence_begin(text, CLEAR_WORDS);
  say_white(&s, c, revolved);
  say_growth(&s, c);
}

void clear_words_view(const body_result *b, bool revolved, char text[CLEAR_WORDS])
{
  const clear_result *c = &b->clear;
  sentence s = sentence_begin(text, CLEAR_WORDS);
  say_view(&s, revolved ? "Looking across through its middle" : "Looking along x through its middle", c->optical_depth[0]);
  say_view(&s, "Along y", c->optical_depth[1]);
  say_view(&s, "From top to bottom", c->optical_depth[2]);
}
