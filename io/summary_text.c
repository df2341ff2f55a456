#include "io/summary_text.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "io/clear_words.h"
#include "io/plain_words.h"
#include "io/summary_stages.h"

static const double M_PER_INCH = 0.0254, PA_PER_PSI = 6894.757293168, J_PER_KWH = 3.6e6;
static const double BTU_PER_HOUR_PER_WATT = 3.412141633;

enum { MOST_PARAGRAPHS = 24, PARAGRAPH = SUMMARY_STAGES_TEXT + 40, INDENT = 2 };

/* Sentences that belong together. They are taken in, by rank, as long as there is room for them. */
typedef struct {
  int rank;
  bool kept;
  size_t length;
  char text[PARAGRAPH];
} paragraph;

typedef struct {
  size_t num;
  paragraph p[MOST_PARAGRAPHS];
} paragraphs;

static paragraph *begin(paragraphs *all, int rank)
{
  if (all->num == MOST_PARAGRAPHS)
    all->num--; /* there is room for all that summary_text_make says; this keeps it so */
  paragraph *p = &all->p[all->num++];
  *p = (paragraph){.rank = rank};
  return p;
}

#if defined(__GNUC__)
__attribute__((format(printf, 2, 3)))
#endif
static void say(paragraph *p, const char *format, ...)
{
  va_list args;
  va_start(args, format);
  const size_t room = sizeof p->text - p->length;
  const int num = vsnprintf(p->text + p->length, room, format, args);
  va_end(args);
  const size_t added = num <= 0 ? 0 : (size_t)num < room ? (size_t)num : room - 1;
  for (size_t i = 0; i < added; i++)
    if ((unsigned char)p->text[p->length + i] < ' ')
      p->text[p->length + i] = ' ';
  p->length += added;
}

/* ------------------------------------------------------------------------------------------------ figures */

static void say_temperature(double celsius, char text[PLAIN_WORDS])
{
  (void)snprintf(text, PLAIN_WORDS, "%.1f \xC2\xB0" "C (%.0f \xC2\xB0" "F)", round(10.0 * celsius) / 10.0 + 0.0, round(celsius * 1.8 + 32.0) + 0.0); /* no "-0" */
}

/* Gauge pressure at the site, as on the dial. */
static void say_pressure(double absolute, double site, char text[PLAIN_WORDS])
{
  const double gauge = absolute - site;
  (void)snprintf(text, PLAIN_WORDS, "%.2f bar(g) (%.0f psig)", gauge * 1e-5, gauge / PA_PER_PSI);
}

static void say_place(const rig *r, const double position[3], char text[2 * PLAIN_WORDS])
{
  double mm[3], inch[3];
  for (int k = 0; k < 3; k++) { /* rounded as they are printed; + 0.0 takes the sign off a zero */
    mm[k] = round(1e3 * position[k]) + 0.0;
    inch[k] = round(10.0 * position[k] / M_PER_INCH) / 10.0 + 0.0;
  }
  if (fmax(fabs(mm[0]), fmax(fabs(mm[1]), fabs(mm[2]))) >= 1e4) {
    char where[PLAIN_WORDS];
    plain_words_place(position, r->mesh_grid->kind == GRID_RZ, where);
    (void)snprintf(text, 2 * PLAIN_WORDS, "at %s", where);
  } else if (r->mesh_grid->kind == GRID_RZ && mm[0] < 0.5)
    (void)snprintf(text, 2 * PLAIN_WORDS, "on the axis at z = %.0f mm (%.1f in)", mm[2], inch[2]);
  else if (r->mesh_grid->kind == GRID_RZ)
    (void)snprintf(text, 2 * PLAIN_WORDS, "at r = %.0f mm, z = %.0f mm (%.1f in, %.1f in)", mm[0], mm[2], inch[0], inch[2]);
  else
    (void)snprintf(text, 2 * PLAIN_WORDS, "at x = %.0f mm, y = %.0f mm, z = %.0f mm (%.1f, %.1f, %.1f in)", mm[0], mm[1], mm[2], inch[0],
                   inch[1], inch[2]);
}

/* ------------------------------------------------------------------------------------------------ sentences */

/* The stage whose end is judged; NULL without stages. */
static const stage_result *judged_stage(const rig *r, const results *res)
{
  return res->num_stages && res->num_stages == r->num_stages ? &res->stages[rig_stage_judged(r->stages, r->num_stages)] : NULL;
}

/* Loud only where time ran out before the ice was solid; a stage that ended as it was asked to is told as that. */
static void say_unfinished(paragraph *p, const body_result *b, const stage_result *stage)
{
  static const double AT_ONCE = 1.0; /* s */
  char after[PLAIN_WORDS];
  const char *by = stage ? stage->ended_by : "";
  if (strcmp(by, "time limit") == 0) {
    say(p, ": NOT solid at the time limit");
  } else if (strcmp(by, "time") == 0) {
    say(p, ": NOT solid when the time of stage %s was up", stage->name);
  } else if (strcmp(by, "temperature") == 0 && stage->end_at - stage->start_at < AT_ONCE) {
    say(p, ": stage %s ended at once, its \"until\" was met when it began", stage->name);
  } else if (strcmp(by, "temperature") == 0) {
    plain_words_duration(stage->end_at - stage->start_at, after);
    say(p, ": stage %s ended by its \"until\" after %s, before it was solid", stage->name, after);
  } else {
    say(p, ": not solid at the end");
  }
  if (isfinite(b->fraction))
    say(p, "; %.1f %% of it is ice", 100.0 * b->fraction);
  say(p, ".");
}

static void tell_freeze(paragraphs *all, const body_result *b, const stage_result *stage)
{
  static const char *const shares[3] = {"half", "90 %", "99 %"};
  char time[PLAIN_WORDS], mass[PLAIN_WORDS];
  paragraph *p = begin(all, 0);
  plain_words_mass(b->mass, true, mass);
  say(p, "%s", b->name);
  if (isfinite(b->mass))
    say(p, " (%s)", mass);
  if (b->complete && isfinite(b->freeze_time)) {
    plain_words_duration(b->freeze_time, time);
    say(p, ": frozen solid after %s.", time);
  } else if (b->complete) {
    say(p, ": frozen solid.");
  } else {
    say_unfinished(p, b, stage);
  }
  bool any = false;
  for (int mark = 0; mark < 3; mark++) {
    if (!isfinite(b->mark[mark]))
      continue;
    plain_words_duration(b->mark[mark], time);
    say(p, "%s%s after %s", any ? ", " : " Frozen: ", shares[mark], time);
    any = true;
  }
  if (any)
    say(p, ".");
}

static void tell_last_liquid(paragraphs *all, const rig *r, const body_result *b, bool closed)
{
  if (!isfinite(b->last_position[0]) || !isfinite(b->last_position[2]))
    return;
  paragraph *p = begin(all, b->last_trapped ? 1 : 3);
  char place[2 * PLAIN_WORDS], mass[PLAIN_WORDS];
  say_place(r, b->last_position, place);
  say(p, "Its last water sits %s", place);
  if (isfinite(b->last_distance))
    say(p, ", %.0f mm (%.1f in) from the nearest surface,", 1e3 * b->last_distance, b->last_distance / M_PER_INCH);
  if (b->last_trapped)
    say(p, closed ? " and has no way out: the vessel is closed, it presses, cracks the block or bursts the vessel."
                  : " and is trapped: ice shuts it in.");
  else
    say(p, " and is not trapped.");
  size_t num_trapped = 0;
  const pocket *largest = NULL;
  for (size_t i = 1; i < b->num_pockets; i++) {
    num_trapped += b->pockets[i].trapped;
    if (b->pockets[i].trapped && (!largest || b->pockets[i].mass > largest->mass))
      largest = &b->pockets[i];
  }
  if (b->num_pockets > 1)
    say(p, " %zu further pocket%s parted from it, %zu of them trapped", b->num_pockets - 1, b->num_pockets == 2 ? "" : "s", num_trapped);
  plain_words_mass(largest ? largest->mass : NAN, false, mass);
  if (largest && isfinite(largest->mass))
    say(p, ", the largest with %s", mass);
  if (b->num_pockets > 1)
    say(p, ".");
}

static void tell_clear(paragraphs *all, const rig *r, const body_result *b)
{
  const bool revolved = r->mesh_grid->kind == GRID_RZ;
  char text[CLEAR_WORDS];
  if (!b->clear.present)
    return;
  clear_words_shares(b, revolved, text);
  say(begin(all, 1), "%s", text);
  clear_words_advice(b, text);
  if (text[0])
    say(begin(all, 1), "%s", text);
  clear_words_place(b, revolved, text);
  if (text[0])
    say(begin(all, 2), "%s", text + 1);
  clear_words_view(b, revolved, text);
  if (text[0])
    say(begin(all, 4), "%s", text + 1);
}

static void tell_level(paragraphs *all, const body_result *b)
{
  if (!isfinite(b->level_rise) || b->level_rise == 0.0)
    return;
  say(begin(all, 6), "Freezing, its surface rises by %.0f mm (%.1f in).", 1e3 * b->level_rise, b->level_rise / M_PER_INCH);
}

static void say_newtons(double newtons, char text[PLAIN_WORDS])
{
  const bool large = newtons >= 1000.0;
  plain_words_value(large ? 1e-3 * newtons : newtons, 2, large ? "kN" : "N", text);
}

/* The verdict on drawing the mould: force, what would change it, the other answer. */
static void tell_draw(paragraphs *all, const bath_result *b, brine_salt salt)
{
  static const char *const verdicts[] = {"soft enough to draw the mould freely", "stiff", "locked"};
  static const char *const short_verdicts[] = {"free", "stiff", "locked"};
  static const char *const ways[] = {"staying between the ice", "mixed through the bath"};
  const bool is_salt = salt < BRINE_ETHYLENE_GLYCOL;
  const char *dissolved = is_salt ? "salt" : brine_name(salt);
  const draw_answer *a = &b->answer;
  char low[PLAIN_WORDS], high[PLAIN_WORDS], warm[PLAIN_WORDS], more[PLAIN_WORDS];
  if (!b->touches_mould)
    return;
  paragraph *p = begin(all, 1);
  say(p, "%s at the mould is %s", b->name, verdicts[b->draw]);
  if (b->other.present && b->other.draw == a->draw)
    say(p, ", with its %s mixed or not", dissolved);
  else if (b->other.present)
    say(p, " (with its %s %s; %s: %s)", dissolved, ways[a->mode], ways[b->other.mode], short_verdicts[b->other.draw]);
  if (a->present && a->draw != DRAW_FREE) {
    say_newtons(a->force_low, low);
    say_newtons(a->force_high, high);
    say_temperature(a->free_above, warm);
    if (b->draw == DRAW_LOCKED)
      say(p, ": do not pull, it would take %s (fresh slush) to %s (aged) besides its weight", low, high);
    else
      say(p, ": drawing takes %s (fresh slush) to %s (aged) besides its weight", low, high);
    say(p, "%s. It comes free at %s or warmer", a->bridged ? "; ice joins coil and mould" : "", warm);
    if (a->salt_to_add > 0.0) {
      plain_words_mass(a->salt_to_add, false, more);
      say(p, ", or with %s more %s%s", more, is_salt ? "dry " : "", dissolved);
    }
  }
  say(p, ".");
}

static void tell_bath(paragraphs *all, const rig *r, size_t index, const bath_result *b, const stage_result *stage)
{
  tell_draw(all, b, r->baths[index].salt);
  paragraph *p = begin(all, 2);
  char onset[PLAIN_WORDS], end[PLAIN_WORDS];
  say(p, "%s", b->name);
  if (isfinite(b->mass_fraction))
    say(p, " (%s, its liquid %.1f %% at the end)", brine_name(r->baths[index].salt), 100.0 * b->mass_fraction);
  say_temperature(b->freezing_onset, onset);
  say_temperature(b->mean_temperature, end);
  if (isfinite(b->freezing_onset))
    say(p, " begins to freeze at %s", onset);
  if (isfinite(b->mean_temperature))
    say(p, "%s ends%s%s at %s", isfinite(b->freezing_onset) ? " and" : "", stage ? " stage " : "", stage ? stage->name : "", end);
  if (isfinite(b->ice_fraction_mean))
    say(p, ", %.0f %% ice", 100.0 * b->ice_fraction_mean);
  if (b->coil_ice > 0.0005)
    say(p, ", %.0f mm (%.1f in) of ice on the coil's tubes", 1e3 * b->coil_ice, b->coil_ice / M_PER_INCH);
  if (b->coil_ice > 0.0005 && b->coil_ice_resistance > 0.0)
    say(p, " (each kW that the coil takes costs %.1f K there)", 1e3 * b->coil_ice_resistance);
  if (isfinite(b->water_taken) && fabs(b->water_taken) > 0.01)
    say(p, "; it %s %.2f kg of water %s the air", b->water_taken > 0.0 ? "took" : "gave", fabs(b->water_taken), b->water_taken > 0.0 ? "from" : "to");
  say(p, ".");
}

/* As many as the size of a kWh figure asks for. */
static int decimals(double joules) { return fabs(joules) >= 100.0 * J_PER_KWH ? 0 : fabs(joules) >= J_PER_KWH ? 1 : 2; }

/* stage: the one that the plant's figures belong to, where there are several; else NULL. */
static void tell_plant(paragraphs *all, const rig *r, const plant_result *plant, const stage_result *stage)
{
  if (!plant->present)
    return;
  paragraph *p = begin(all, 4);
  char evaporating[PLAIN_WORDS], suction[PLAIN_WORDS], condensing[PLAIN_WORDS];
  say_temperature(plant->evaporating.mean, evaporating);
  say_temperature(plant->condensing.mean, condensing);
  say_pressure(plant->suction.mean, r->room.pressure, suction);
  if (stage)
    say(p, "In stage %s the plant", stage->name);
  else
    say(p, "The plant");
  if (isfinite(plant->evaporating.mean))
    say(p, " evaporates at %s on average", evaporating);
  if (isfinite(plant->suction.mean))
    say(p, ", suction %s", suction);
  if (isfinite(plant->condensing.mean))
    say(p, ", condenses at %s", condensing);
  if (isfinite(plant->heat))
    say(p, "; it takes %.*f kWh of heat", decimals(plant->heat), plant->heat / J_PER_KWH);
  if (isfinite(plant->work))
    say(p, " for %.*f kWh of power", decimals(plant->work), plant->work / J_PER_KWH);
  if (isfinite(plant->mean_power))
    say(p, ", %.2f kW (%.0f BTU/h) of electricity on average", 1e-3 * plant->mean_power, plant->mean_power * BTU_PER_HOUR_PER_WATT);
  say(p, ".");
}

/* What the electricity came to, from the start to the end of that stage. */
static void tell_account(paragraphs *all, const plant_account *a, size_t num_blocks, const stage_result *stage)
{
  if (!a->present || !isfinite(a->energy_per_kg))
    return;
  paragraph *p = begin(all, 3);
  say(p, "Electricity");
  if (stage)
    say(p, " up to the end of stage %s", stage->name);
  say(p, ": %.*f kWh, %.0f kWh per tonne of ice", decimals(a->energy), a->energy / J_PER_KWH, 1e3 * a->energy_per_kg / J_PER_KWH);
  if (isfinite(a->price))
    say(p, ", price %.2f%s", a->price / fmax((double)num_blocks, 1.0), num_blocks > 1 ? " a block" : "");
  if (isfinite(a->performance))
    say(p, "; COP %.2f", a->performance);
  if (isfinite(a->running_share))
    say(p, ", running %.0f %% of the time", 100.0 * a->running_share);
  if (isfinite(a->running_current))
    say(p, "; %.1f A, %.0f A at the start", a->running_current, a->starting_current);
  say(p, ".");
}

static int by_size(const void *a, const void *b)
{
  const ledger_entry *x = *(const ledger_entry *const *)a, *y = *(const ledger_entry *const *)b;
  const double size_x = fabs(x->joules), size_y = fabs(y->joules);
  return size_x > size_y ? -1 : size_x < size_y ? 1 : strcmp(x->name, y->name);
}

/* The paths of heat, the largest first. */
static status tell_ledger(paragraphs *all, const heat_ledger *ledger, message *msg)
{
  enum { MOST_PATHS = 5 };
  if (ledger->num_paths == 0)
    return STATUS_OK;
  const ledger_entry **sorted = malloc(ledger->num_paths * sizeof *sorted);
  if (!sorted)
    return message_set(msg, STATUS_NO_MEMORY, "out of memory: %zu bytes for the summary", ledger->num_paths * sizeof *sorted);
  for (size_t i = 0; i < ledger->num_paths; i++)
    sorted[i] = &ledger->entries[i];
  qsort(sorted, ledger->num_paths, sizeof *sorted, by_size);
  paragraph *p = begin(all, 5);
  say(p, "Heat into the rig, kWh (below 0: taken out):");
  size_t told = 0;
  for (; told < ledger->num_paths && told < MOST_PATHS && fabs(sorted[told]->joules) >= 0.005 * J_PER_KWH; told++)
    say(p, "%s %s %.2f", told ? "," : "", sorted[told]->name, sorted[told]->joules / J_PER_KWH);
  if (told == 0)
    say(p, " none worth telling");
  if (fabs(ledger->residual_relative) > 1e-9)
    say(p, ". The books close to %.0e only", fabs(ledger->residual_relative));
  say(p, ".");
  free(sorted);
  return STATUS_OK;
}

static void tell_events(paragraphs *all, const results *res)
{
  if (res->num_events == 0)
    return;
  char at[PLAIN_WORDS];
  const run_event *first = &res->events[0];
  plain_words_duration(first->at, at);
  if (res->num_events == 1 && first->count > 1.0)
    say(begin(all, 6), "%.0f events alike; the first after %s: %s.", first->count, at, first->what);
  else
    say(begin(all, 6), "%zu event%s; the first after %s: %s%s%s. All are in summary.json.", res->num_events, res->num_events == 1 ? "" : "s",
      at, first->what, first->where[0] ? ", " : "", first->where);
}

static void tell_warnings(paragraphs *all, const results *res)
{
  enum { MOST_WARNINGS = 3 };
  for (size_t i = 0; i < res->num_warnings && i < MOST_WARNINGS; i++)
    say(begin(all, 1), "Warning: %s", res->warnings[i]);
  if (res->num_warnings > MOST_WARNINGS)
    say(begin(all, 1), "%zu more warnings are in summary.json.", res->num_warnings - MOST_WARNINGS);
}

/* ------------------------------------------------------------------------------------------------ fitting it in */

/* Characters, not bytes: continuation bytes of UTF-8 take no column. */
static size_t columns_of(const char *text, size_t num_bytes)
{
  size_t columns = 0;
  for (size_t i = 0; i < num_bytes; i++)
    columns += ((unsigned char)text[i] & 0xC0) != 0x80;
  return columns;
}

/* Bytes up to the blank that ends the word at `word`. A figure keeps its unit: "-18.9 degC" and "23 psig" are one word. */
static size_t word_length(const char *word)
{
  static const char *const units[] = {"\xC2\xB0" "C", "\xC2\xB0" "F", "%", "kg", "g", "mm", "m", "in", "d", "h", "min", "s", "kW", "kWh", "bar(g)"};
  size_t bytes = strcspn(word, " ");
  if (bytes == 0 || word[bytes] == '\0' || word[bytes - 1] < '0' || word[bytes - 1] > '9')
    return bytes;
  const char *next = word + bytes + 1;
  for (size_t i = 0; i < sizeof units / sizeof *units; i++) {
    const size_t length = strlen(units[i]);
    if (strncmp(next, units[i], length) == 0 && strchr(" ,.;:)", next[length]))
      return bytes + 1 + strcspn(next, " ");
  }
  return bytes;
}

/* Appends p wrapped at blanks (out may be NULL: only count); the number of lines. A word longer than a line is cut. */
static size_t wrap(const char *text, char *out, size_t *length)
{
  size_t lines = 1, column = 0;
  for (const char *word = text; *word;) {
    word += strspn(word, " ");
    size_t bytes = word_length(word);
    if (bytes == 0)
      break;
    while (columns_of(word, bytes) > SUMMARY_TEXT_COLUMNS - INDENT || ((unsigned char)word[bytes] & 0xC0) == 0x80)
      bytes--;
    const size_t wide = columns_of(word, bytes);
    if (column > 0 && column + 1 + wide > SUMMARY_TEXT_COLUMNS) {
      lines++;
      column = INDENT;
      if (out)
        *length += (size_t)sprintf(out + *length, "\n%*s", INDENT, "");
    } else if (column > 0) {
      column++;
      if (out)
        out[(*length)++] = ' ';
    }
    if (out) {
      memcpy(out + *length, word, bytes);
      *length += bytes;
    }
    column += wide;
    word += bytes;
  }
  if (out)
    out[(*length)++] = '\n';
  return lines;
}

/* Marks what fits into `room` lines, by rank; returns whether all does. */
static bool keep_what_fits(paragraphs *all, size_t room)
{
  enum { LOWEST = 9 };
  size_t lines = 0, num = 0;
  for (int rank = 0; rank <= LOWEST; rank++)
    for (size_t i = 0; i < all->num; i++) {
      paragraph *p = &all->p[i];
      const size_t needed = wrap(p->text, NULL, NULL);
      if (p->rank != rank || lines + needed > room)
        continue;
      p->kept = true;
      lines += needed;
    }
  for (size_t i = 0; i < all->num; i++)
    num += all->p[i].kept;
  return num == all->num;
}

static status lay_out(char **text, paragraphs *all, message *msg)
{
  static const char CAUTION[] = "A forecast, not permission: local codes, makers' instructions and licensed practice come first.";
  static const char DROPPED[] = "More is in summary.json.";
  const size_t room = SUMMARY_TEXT_LINES - wrap(CAUTION, NULL, NULL);
  const bool whole = keep_what_fits(all, room);
  for (size_t i = 0; !whole && i < all->num; i++)
    all->p[i].kept = false;
  if (!whole) /* a line to say so */
    (void)keep_what_fits(all, room - wrap(DROPPED, NULL, NULL));
  char *out = malloc((MOST_PARAGRAPHS + 2) * (size_t)PARAGRAPH * 2);
  if (!out)
    return message_set(msg, STATUS_NO_MEMORY, "out of memory: %d bytes for the summary", (MOST_PARAGRAPHS + 2) * PARAGRAPH * 2);
  size_t length = 0;
  for (size_t i = 0; i < all->num; i++)
    if (all->p[i].kept)
      (void)wrap(all->p[i].text, out, &length);
  if (!whole)
    (void)wrap(DROPPED, out, &length);
  (void)wrap(CAUTION, out, &length);
  out[length] = '\0';
  *text = out;
  return STATUS_OK;
}

/* stage: whose freeze it is, where there are several; else NULL. */
static void tell_switch_off(paragraphs *all, const switch_off_result *s, const stage_result *stage)
{
  char at[PLAIN_WORDS], less[PLAIN_WORDS], time[PLAIN_WORDS];
  if (!s->present)
    return;
  if (!(s->spared > 0.0)) {
    say(begin(all, 2), "Switching off early: the plant is needed to the end of the freeze; what is stored is not cold enough or too little.");
    return;
  }
  plain_words_duration(s->at, at);
  plain_words_duration(s->spared, less);
  plain_words_duration(s->freeze_time, time);
  say(begin(all, 2), "Switching off early: from %s into %s%s on, stored cold ends it by itself, after %s in all; that spares %s of plant and %.2f kWh.",
      at, stage ? "stage " : "the freeze", stage ? stage->name : "", time, less, s->energy_spared / J_PER_KWH);
}

static void tell_stages(paragraphs *all, const results *res)
{
  char text[SUMMARY_STAGES_TEXT];
  summary_stages_tell(res, text);
  if (text[0])
    say(begin(all, 1), "%s", text);
}

status summary_text_make(char **text, const rig *r, const results *res, message *msg)
{
  enum { MOST_BODIES = 3, MOST_BATHS = 2 };
  paragraphs *all = calloc(1, sizeof *all);
  if (!all)
    return message_set(msg, STATUS_NO_MEMORY, "out of memory: %zu bytes for the summary", sizeof *all);
  const stage_result *one_of_several = res->num_stages > 1 ? judged_stage(r, res) : NULL;
  if (r->title[0])
    say(begin(all, 0), "%s", r->title);
  for (size_t i = 0; i < res->num_bodies && i < MOST_BODIES; i++) {
    tell_freeze(all, &res->bodies[i], judged_stage(r, res));
    tell_last_liquid(all, r, &res->bodies[i], i < r->num_bodies && !r->bodies[i].open_top);
    tell_clear(all, r, &res->bodies[i]);
  }
  tell_stages(all, res);
  if (res->num_bodies == 1)
    tell_level(all, &res->bodies[0]);
  for (size_t i = 0; i < res->num_baths && i < MOST_BATHS; i++)
    tell_bath(all, r, i, &res->baths[i], one_of_several);
  tell_plant(all, r, &res->plant, one_of_several);
  tell_account(all, &res->account, res->num_bodies, one_of_several);
  tell_switch_off(all, &res->switch_off, one_of_several);
  status code = tell_ledger(all, &res->ledger, msg);
  tell_warnings(all, res);
  tell_events(all, res);
  if (res->num_bodies > MOST_BODIES || res->num_baths > MOST_BATHS)
    say(begin(all, 1), "Further bodies and baths are in summary.json.");
  if (code == STATUS_OK)
    code = lay_out(text, all, msg);
  free(all);
  return code;
}
