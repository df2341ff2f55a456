#include "io/brine_command.h"

#include <errno.h>
#include <jansson.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>

#include "io/brine_tub.h"
#include "io/plain_words.h"
#include "io/whole_file.h"

static const double NOTABLE_WARMING = 5.0; /* K */

/* ------------------------------------------------------------------------------------------------ in words */

static const char *source_name(brine_liquidus source)
{
  return source == LIQUIDUS_MELINDER ? "Melinder 2010" : "Toner & Catling 2017";
}

static void say_tub(FILE *to, const brine_tub *t)
{
  char mass[PLAIN_WORDS], water[PLAIN_WORDS], volume[PLAIN_WORDS];
  const char *salt = brine_name(t->grade.salt);
  (void)fprintf(to, "%s brine from %s\n\n", salt, t->grade.words);
  (void)fprintf(to, "In the tub\n");
  if (!isnan(t->total)) {
    plain_words_mass(t->bags, false, mass);
    plain_words_mass(t->water, false, water);
    if (t->grade.share < 1.0)
      (void)fprintf(to, "  from the bag       %s, of it %.4g kg of %s; the rest is bound water and other matter\n", mass, t->bags * t->grade.share, salt);
    else
      (void)fprintf(to, "  %-18s %s\n", salt, mass);
    (void)fprintf(to, "  water poured in    %s\n", water);
    plain_words_mass(t->total, false, mass);
    plain_words_volume(t->volume, volume);
    (void)fprintf(to, "  together           %s, %s at %.0f degC\n", mass, volume, BRINE_TUB_MADE_AT);
  }
  (void)fprintf(to, "  strength           %.2f %% %s by mass\n", 100.0 * t->strength, salt);
  (void)fprintf(to, "  density            %.0f kg/m3 at %.0f degC: check it with a hydrometer\n", t->density, BRINE_TUB_MADE_AT);
  (void)fprintf(to, "  starts to freeze   %.1f degC (%s", t->onset, source_name(t->liquidus));
  if (!isnan(t->other_onset))
    (void)fprintf(to, "; %s: %.1f degC", source_name(t->liquidus == LIQUIDUS_MELINDER ? LIQUIDUS_TONER_CATLING : LIQUIDUS_MELINDER), t->other_onset);
  (void)fprintf(to, ")\n");
  if (!isnan(t->weak_onset) && !isnan(t->strong_onset) && t->weak_onset - t->strong_onset > 0.05)
    (void)fprintf(to, "                     %.1f to %.1f degC as the bag holds %.3g to %.3g %% salt\n", t->weak_onset, t->strong_onset, 100.0 * t->grade.low,
                  100.0 * t->grade.high);
}

static void say_rows(FILE *to, const brine_tub *t)
{
  (void)fprintf(to, "\nIce against temperature, well mixed\n  degC      ice   liquid   the mould\n");
  for (size_t i = 0; i < t->num_rows; i++)
    (void)fprintf(to, "  %6.1f  %4.0f %%  %5.1f %%   %s\n", t->row[i].temperature, 100.0 * t->row[i].ice, 100.0 * t->row[i].liquid_strength,
                  i == 0 ? "free (ice begins)" : brine_tub_class(t->row[i].ice));
  const brine_eutectic_point e = brine_eutectic(t->grade.salt);
  if (e.latent_heat > 0.0)
    (void)fprintf(to, "  at %.1f degC the rest freezes too, ice and salt together (eutectic, %.3g %%)\n", e.temperature, 100.0 * e.mass_fraction);
  else
    (void)fprintf(to, "  the freezing curve is known to %.3g degC, %.3g %%\n", e.temperature, 100.0 * e.mass_fraction);
}

/* What to add to the tub, or to each kilogram of brine when no amount was given. */
static double brine_at_hand(const brine_tub *t)
{
  return isnan(t->total) ? 1.0 : t->total;
}

static void say_change(FILE *to, const brine_tub *t)
{
  const double brine = brine_at_hand(t);
  if (isnan(t->to))
    return;
  (void)fprintf(to, "\nTo start at %.4g degC (%.2f %%), add to %s", t->to, 100.0 * t->to_strength, isnan(t->total) ? "each kilogram of brine" : "the tub");
  if (t->to_strength <= t->strength) {
    (void)fprintf(to, "\n  %.4g kg of water\n", salt_grade_water_to_add(brine, t->strength, t->to_strength));
    return;
  }
  (void)fprintf(to, " one of\n");
  for (size_t i = 0; i < salt_grade_num() + 1; i++) {
    const salt_grade *g = i == 0 ? &t->grade : salt_grade_at(i - 1);
    const double more = salt_grade_to_add(g, brine, t->strength, t->to_strength);
    if (g->salt == t->grade.salt && !isnan(more) && (i == 0 || g->share != t->grade.share))
      (void)fprintf(to, "  %8.4g kg of %s\n", more, g->words);
  }
}

static void say_cautions(FILE *to, const brine_tub *t)
{
  (void)fprintf(to, "\nCaution\n");
  if (t->warming > NOTABLE_WARMING)
    (void)fprintf(to, "  Dissolving warms this tub by some %.0f K (15 %% either way). Salt into water, never water onto salt; a little at a time, stirring;\n"
                      "  goggles and gloves; let it cool before the mould goes in.\n", t->warming);
  else if (t->warming < -1.0)
    (void)fprintf(to, "  Dissolving cools this tub by some %.0f K: it takes a while until all has gone into solution.\n", -t->warming);
  if (brine_is_chloride(t->grade.salt))
    (void)fprintf(to, "  Chloride brine eats aluminium, zinc and brass (with zinc it gives off hydrogen), and it conducts: a residual-current device, all\n"
                      "  metal bonded to earth. Dispose of it by local rules.\n");
  else if (t->grade.salt == BRINE_ETHANOL)
    (void)fprintf(to, "  Ethanol burns, and its vapour with air may explode: no flames or sparks, fresh air. Dispose of it by local rules.\n");
  else if (t->grade.salt == BRINE_ETHYLENE_GLYCOL)
    (void)fprintf(to, "  Ethylene glycol is poisonous and tastes sweet: keep it from children and animals, and from ice that is eaten. Dispose of it by local rules.\n");
  else
    (void)fprintf(to, "  Glycol makes floors slippery; technical grades hold additives that do not belong near ice that is eaten. Dispose of it by local rules.\n");
  (void)fprintf(to, "  What stands open draws water from the air and grows weaker: trust the hydrometer.\n");
}

static status say_all(FILE *to, const brine_tub *t, message *msg)
{
  say_tub(to, t);
  say_rows(to, t);
  say_change(to, t);
  say_cautions(to, t);
  return fflush(to) != 0 || ferror(to) ? message_set(msg, STATUS_FILE, "the answer could not be written") : STATUS_OK;
}

/* ------------------------------------------------------------------------------------------------ as JSON */

static void put(json_t *o, const char *key, double value)
{
  if (isfinite(value))
    (void)json_object_set_new(o, key, json_real(value));
}

static json_t *additions(const brine_tub *t)
{
  json_t *list = json_array();
  const double brine = brine_at_hand(t);
  for (size_t i = 0; i < salt_grade_num(); i++) {
    const salt_grade *g = salt_grade_at(i);
    const double more = salt_grade_to_add(g, brine, t->strength, t->to_strength);
    if (g->salt == t->grade.salt && isfinite(more))
      (void)json_array_append_new(list, json_pack("{s:s, s:f}", "grade", g->name, "mass_kg", more));
  }
  return list;
}

static char *as_json(const brine_tub *t)
{
  const brine_eutectic_point e = brine_eutectic(t->grade.salt);
  json_t *o = json_pack("{s:s, s:s, s:f, s:s}", "salt", brine_name(t->grade.salt), "grade", t->grade.name, "purity", t->grade.share, "liquidus",
                        t->liquidus == LIQUIDUS_MELINDER ? "melinder" : "toner_catling");
  json_t *rows = json_array();
  for (size_t i = 0; i < t->num_rows; i++)
    (void)json_array_append_new(rows, json_pack("{s:f, s:f, s:f, s:s}", "temperature_C", t->row[i].temperature, "ice_fraction", t->row[i].ice,
                                                "liquid_mass_fraction", t->row[i].liquid_strength, "mould", brine_tub_class(t->row[i].ice)));
  put(o, "bags_kg", t->bags);
  put(o, "water_kg", t->water);
  put(o, "mass_kg", t->total);
  put(o, "volume_m3", t->volume);
  put(o, "density_kg_per_m3", t->density);
  put(o, "mass_fraction", t->strength);
  put(o, "freezing_onset_C", t->onset);
  put(o, "freezing_onset_other_source_C", t->other_onset);
  put(o, "dissolving_warms_by_K", t->warming);
  (void)json_object_set_new(o, "eutectic", json_pack("{s:f, s:f}", "mass_fraction", e.mass_fraction, "temperature_C", e.temperature));
  (void)json_object_set_new(o, "ice", rows);
  if (!isnan(t->to)) {
    json_t *to = json_pack("{s:f, s:f, s:f, s:o}", "freezing_onset_C", t->to, "mass_fraction", t->to_strength, "brine_kg", brine_at_hand(t), "salt", additions(t));
    put(to, "water_kg", salt_grade_water_to_add(brine_at_hand(t), t->strength, t->to_strength));
    (void)json_object_set_new(o, "to", to);
  }
  char *text = o ? json_dumps(o, JSON_INDENT(2) | JSON_PRESERVE_ORDER) : NULL;
  json_decref(o);
  return text;
}

/* ------------------------------------------------------------------------------------------------ files */

static status write_text(const char *path, const brine_tub *t, message *msg)
{
  whole_file *f = NULL;
  status code = whole_file_open(&f, path, msg);
  if (code == STATUS_OK)
    code = say_all(whole_file_stream(f), t, msg);
  if (code == STATUS_OK)
    return whole_file_commit(&f, msg);
  whole_file_abandon(&f);
  return code;
}

static status write_files(const char *dir, const brine_tub *t, const char *json, message *msg)
{
  char path[WHOLE_FILE_PATH];
  if (mkdir(dir, 0777) != 0 && errno != EEXIST)
    return whole_file_fault(msg, "make the directory", dir, errno);
  status code = whole_file_join(path, dir, "brine.txt", msg);
  if (code == STATUS_OK)
    code = write_text(path, t, msg);
  if (code == STATUS_OK)
    code = whole_file_join(path, dir, "brine.json", msg);
  if (code == STATUS_OK)
    code = whole_file_write(path, json, strlen(json), msg);
  if (code == STATUS_OK)
    code = whole_file_join(path, dir, "ice_fraction.png", msg);
  return code == STATUS_OK ? brine_tub_draw(t, path, msg) : code;
}

status brine_command(const options *o, message *msg)
{
  brine_tub t;
  status code = brine_tub_read(&t, &o->brine, msg);
  if (code != STATUS_OK)
    return code;
  char *json = as_json(&t);
  if (!json)
    return message_set(msg, STATUS_NO_MEMORY, "out of memory for the answer as JSON");
  if (o->directory)
    code = write_files(o->directory, &t, json, msg);
  if (code == STATUS_OK && o->json)
    code = printf("%s\n", json) < 0 || fflush(stdout) != 0 ? message_set(msg, STATUS_FILE, "the answer could not be written") : STATUS_OK;
  else if (code == STATUS_OK)
    code = say_all(stdout, &t, msg);
  free(json);
  return code;
}
