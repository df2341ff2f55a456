#include "io/brine_tub.h"

#include <math.h>
#include <string.h>

#include "io/quantity.h"
#include "materials/water.h"
#include "solver/verdict.h"

/* ---- what was typed ---- */

static status take(const quantity_system *units, quantity_kind kind, const char *option, const char *text, double *out, message *msg)
{
  quantity q;
  message why = {""};
  if (!text)
    return STATUS_OK;
  const status code = quantity_parse(units, kind, text, &q, &why);
  if (code != STATUS_OK)
    return message_set(msg, STATUS_BAD_INPUT, "%s: %.400s", option, why.text);
  if (kind != QUANTITY_TEMPERATURE && !(q.low > 0.0))
    return message_set(msg, STATUS_BAD_INPUT, "%s: \"%.60s\" must be above zero", option, text);
  *out = q.value;
  return STATUS_OK;
}

typedef struct { double mass, water, onset, strength, to; } figures;

static status take_all(figures *f, const options_brine *w, message *msg)
{
  quantity_system *units = NULL;
  *f = (figures){NAN, NAN, NAN, NAN, NAN};
  status code = quantity_system_create(&units, msg);
  if (code == STATUS_OK)
    code = take(units, QUANTITY_MASS, "--mass", w->mass, &f->mass, msg);
  if (code == STATUS_OK)
    code = take(units, QUANTITY_VOLUME, "--water", w->water, &f->water, msg);
  if (code == STATUS_OK)
    code = take(units, QUANTITY_TEMPERATURE, "--onset", w->onset, &f->onset, msg);
  if (code == STATUS_OK)
    code = take(units, QUANTITY_SHARE, "--strength", w->strength, &f->strength, msg);
  if (code == STATUS_OK)
    code = take(units, QUANTITY_TEMPERATURE, "--to", w->to, &f->to, msg);
  quantity_system_destroy(&units);
  return code;
}

static status choose_source(brine_tub *t, const char *word, message *msg)
{
  t->liquidus = brine_is_chloride(t->grade.salt) ? LIQUIDUS_TONER_CATLING : LIQUIDUS_MELINDER;
  if (!word)
    return STATUS_OK;
  if (strcmp(word, "melinder") == 0)
    t->liquidus = LIQUIDUS_MELINDER;
  else if (strcmp(word, "toner_catling") != 0)
    return message_set(msg, STATUS_BAD_INPUT, "--liquidus %.40s: toner_catling or melinder is accepted", word);
  if (isnan(brine_onset(t->grade.salt, t->liquidus, 0.05)))
    return message_set(msg, STATUS_BAD_INPUT, "--liquidus %.40s has no freezing curve of %s; leave it out", word, brine_name(t->grade.salt));
  return STATUS_OK;
}

/* ---- strength ---- */

static status past_the_end(const brine_tub *t, double w, const char *whose, message *msg)
{
  const brine_eutectic_point e = brine_eutectic(t->grade.salt);
  if (e.latent_heat > 0.0)
    return message_set(msg, STATUS_BAD_INPUT,
                       "%s: %.4g %% of %s lies above the eutectic (%.4g %%, %.4g degC): beyond it salt, not ice, falls out first and the brine "
                       "starts to freeze warmer again; use less salt or more water", whose, 100.0 * w, brine_name(t->grade.salt), 100.0 * e.mass_fraction,
                       e.temperature);
  return message_set(msg, STATUS_BAD_INPUT, "%s: %.4g %% of %s lies beyond the known freezing curve (to %.4g %%, %.4g degC); use more water", whose,
                     100.0 * w, brine_name(t->grade.salt), 100.0 * e.mass_fraction, e.temperature);
}

static status strength_at(const brine_tub *t, double onset, const char *option, double *w, message *msg)
{
  *w = brine_liquidus_fraction(t->grade.salt, t->liquidus, onset);
  if (*w > 0.0)
    return STATUS_OK;
  const double end = brine_onset(t->grade.salt, t->liquidus, brine_eutectic(t->grade.salt).mass_fraction);
  return message_set(msg, STATUS_BAD_INPUT, "%s: no strength of %s starts to freeze at %.4g degC; it can be between 0 and %.4g degC (the %s)", option,
                     brine_name(t->grade.salt), onset, end, brine_eutectic(t->grade.salt).latent_heat > 0.0 ? "eutectic" : "end of the known curve");
}

static double onset_if(const brine_tub *t, double share)
{
  salt_grade g = t->grade;
  g.share = share;
  return brine_onset(g.salt, t->liquidus, salt_grade_strength(&g, &t->bags, 1, t->water));
}

/* Strength and masses from one of the three ways of asking. */
static status find_strength(brine_tub *t, const figures *f, message *msg)
{
  const int by_mass = !isnan(f->mass), by_onset = !isnan(f->onset), by_strength = !isnan(f->strength);
  if (by_mass + by_onset + by_strength != 1 || (isnan(f->water) && !by_strength))
    return message_set(msg, STATUS_BAD_INPUT, "say how much: --mass M --water V (bags and water), --onset T --water V, or --strength W");
  t->bags = f->mass;
  t->water = f->water * water_density(BRINE_TUB_MADE_AT);
  if (by_mass)
    t->strength = salt_grade_strength(&t->grade, &t->bags, 1, t->water);
  else if (by_strength)
    t->strength = f->strength;
  else {
    const status code = strength_at(t, f->onset, "--onset", &t->strength, msg);
    if (code != STATUS_OK)
      return code;
  }
  if (t->strength > brine_eutectic(t->grade.salt).mass_fraction)
    return past_the_end(t, t->strength, by_mass ? "the tub" : by_strength ? "--strength" : "--onset", msg);
  if (!by_mass && !isnan(t->water)) {
    t->bags = salt_grade_to_add(&t->grade, t->water, 0.0, t->strength);
    if (isnan(t->bags))
      return message_set(msg, STATUS_BAD_INPUT, "%s holds %.3g %% salt and cannot make brine of %.4g %%", t->grade.words, 100.0 * t->grade.share,
                         100.0 * t->strength);
  }
  t->weak_onset = by_mass ? onset_if(t, t->grade.low) : NAN;
  t->strong_onset = by_mass ? onset_if(t, t->grade.high) : NAN;
  return STATUS_OK;
}

/* ---- what follows ---- */

const char *brine_tub_class(double ice)
{
  return ice < VERDICT_STIFF ? "free" : ice <= VERDICT_LOCKED ? "stiff" : "locked";
}

/* Round temperatures from the onset down to the eutectic, at most 30 K. */
static void fill_rows(brine_tub *t)
{
  const double end = fmax(brine_onset(t->grade.salt, t->liquidus, brine_eutectic(t->grade.salt).mass_fraction), t->onset - 30.0);
  const double range = t->onset - end, step = range > 15.0 ? 2.0 : range > 5.0 ? 1.0 : 0.5;
  double at = t->onset;
  while (t->num_rows + 1 < BRINE_TUB_ROWS && at > end) {
    t->row[t->num_rows].temperature = at;
    t->row[t->num_rows].ice = brine_ice_fraction(t->grade.salt, t->liquidus, t->strength, at);
    t->row[t->num_rows++].liquid_strength = brine_liquidus_fraction(t->grade.salt, t->liquidus, at);
    at = step * (ceil(at / step - 1e-9) - 1.0);
  }
}

static void find_the_rest(brine_tub *t)
{
  const brine_salt salt = t->grade.salt;
  const brine_liquidus other = t->liquidus == LIQUIDUS_MELINDER ? LIQUIDUS_TONER_CATLING : LIQUIDUS_MELINDER;
  t->total = t->bags + t->water;
  t->density = brine_density(salt, t->strength, BRINE_TUB_MADE_AT);
  t->volume = t->total / t->density;
  t->onset = brine_onset(salt, t->liquidus, t->strength);
  t->other_onset = brine_is_chloride(salt) ? brine_onset(salt, other, t->strength) : NAN;
  t->warming = salt_grade_solution_heat(&t->grade) * t->bags / (t->total * brine_specific_heat(salt, t->strength, BRINE_TUB_MADE_AT));
  fill_rows(t);
}

status brine_tub_read(brine_tub *out, const options_brine *words, message *msg)
{
  figures f;
  brine_tub t = {.to = NAN, .to_strength = NAN};
  message why = {""};
  if (!words->salt)
    return message_set(msg, STATUS_BAD_INPUT, "name the salt: --salt GRADE, for instance --salt \"CaCl2 flake 77\"; lastwater brine --help lists the grades");
  if (salt_grade_find(&t.grade, words->salt, &why) != STATUS_OK)
    return message_set(msg, STATUS_BAD_INPUT, "--salt: %.400s; lastwater brine --help lists the grades", why.text);
  status code = take_all(&f, words, msg);
  if (code == STATUS_OK)
    code = choose_source(&t, words->liquidus, msg);
  if (code == STATUS_OK)
    code = find_strength(&t, &f, msg);
  if (code == STATUS_OK && !isnan(f.to)) {
    t.to = f.to;
    code = strength_at(&t, f.to, "--to", &t.to_strength, msg);
  }
  if (code == STATUS_OK) {
    find_the_rest(&t);
    *out = t;
  }
  return code;
}
