#include "io/report_page.h"

#include <math.h>
#include <stdarg.h>
#include <stdlib.h>
#include <string.h>

#include "io/plain_words.h"
#include "io/whole_file.h"

static const double J_PER_KWH = 3.6e6;
static const double LB_PER_KG = 2.20462262185; /* exact definition of the pound: 0.45359237 kg */

/* ------------------------------------------------------------------------------------------------ text into HTML */

/* Names and warnings are anybody's text. */
static void escaped(FILE *f, const char *text)
{
  for (; *text; text++)
    switch (*text) {
    case '<': fputs("&lt;", f); break;
    case '>': fputs("&gt;", f); break;
    case '&': fputs("&amp;", f); break;
    case '"': fputs("&quot;", f); break;
    default: fputc((unsigned char)*text < 0x20 ? ' ' : *text, f);
    }
}

#if defined(__GNUC__)
__attribute__((format(printf, 2, 3)))
#endif
static void say(FILE *f, const char *format, ...) /* formatted, then escaped */
{
  char text[1024];
  va_list args;
  va_start(args, format);
  (void)vsnprintf(text, sizeof text, format, args);
  va_end(args);
  escaped(f, text);
}

static void cell(FILE *f, const char *text)
{
  fputs("<td>", f);
  escaped(f, text);
  fputs("</td>", f);
}

static void value_cell(FILE *f, double value, int digits, const char *unit)
{
  char text[PLAIN_WORDS] = "";
  if (isfinite(value))
    plain_words_value(value, digits, unit, text);
  fputs("<td class=\"n\">", f);
  escaped(f, text);
  fputs("</td>", f);
}

static void duration_cell(FILE *f, double seconds)
{
  char text[PLAIN_WORDS] = "";
  if (isfinite(seconds))
    plain_words_duration(seconds, text);
  fputs("<td class=\"n\">", f);
  escaped(f, text);
  fputs("</td>", f);
}

/* `heads` are parted by '|'. */
static void open_table(FILE *f, const char *title, const char *heads)
{
  fprintf(f, "<h2>%s</h2>\n<div class=\"wide\"><table>\n<thead><tr><th>", title);
  for (; *heads; heads++) {
    if (*heads == '|')
      fputs("</th><th>", f);
    else
      fputc(*heads, f);
  }
  fputs("</th></tr></thead>\n<tbody>\n", f);
}

static void close_table(FILE *f) { fputs("</tbody></table></div>\n", f); }

/* ------------------------------------------------------------------------------------------------ the answer */

static bool revolved(const rig *r) { return r->mesh_grid && r->mesh_grid->kind == GRID_RZ; }

static void answer_time(FILE *f, const body_result *body, bool alone)
{
  char when[PLAIN_WORDS], share[PLAIN_WORDS];
  fputs("<p class=\"answer\">", f);
  if (body->complete) {
    plain_words_duration(body->freeze_time, when);
    if (alone)
      say(f, "The water is frozen solid after %s.", when);
    else
      say(f, "%s: frozen solid after %s.", body->name, when);
  } else {
    plain_words_value(100.0 * body->fraction, 3, "%", share);
    if (alone)
      say(f, "The water did not freeze solid: %s of it was ice at the end of the freeze.", share);
    else
      say(f, "%s: not frozen solid; %s of it was ice at the end of the freeze.", body->name, share);
  }
  fputs("</p>\n", f);
  const bool known[3] = {isfinite(body->mark[0]), isfinite(body->mark[1]), isfinite(body->mark[2])};
  if (!known[0] && !known[1] && !known[2])
    return;
  static const char *const shares[3] = {"Half of it is ice", "90 %", "99 %"};
  fputs("<p>", f);
  for (int i = 0; i < 3; i++)
    if (known[i]) {
      plain_words_duration(body->mark[i], when);
      say(f, "%s after %s. ", shares[i], when);
    }
  fputs("</p>\n", f);
}

static void answer_last_water(FILE *f, const rig *r, const body_result *body)
{
  if (!body->complete || !isfinite(body->last_position[0]))
    return;
  char place[PLAIN_WORDS], deep[PLAIN_WORDS];
  plain_words_place(body->last_position, revolved(r), place);
  fputs("<p>", f);
  say(f, "Its last water sits at %s", place);
  if (isfinite(body->last_distance)) {
    plain_words_value(1000.0 * body->last_distance, 3, "mm", deep);
    say(f, ", %s from the nearest surface", deep);
  }
  say(f, body->last_trapped ? ". It is trapped: ice had closed it in." : ". It was not trapped.");
  fputs("</p>\n", f);
}

static void answer_bath(FILE *f, const bath_result *bath, bool alone)
{
  static const char *const verdict[] = {[DRAW_FREE] = "free: the mould can be drawn", [DRAW_STIFF] = "stiff: drawing the mould takes force",
                                        [DRAW_LOCKED] = "locked: the mould is held fast"};
  char strength[PLAIN_WORDS], onset[PLAIN_WORDS], ice[PLAIN_WORDS], wall[PLAIN_WORDS];
  fputs("<p>", f);
  say(f, "At the end %s", alone ? "the bath" : bath->name);
  if (isfinite(bath->ice_fraction_mean)) {
    plain_words_value(100.0 * bath->ice_fraction_mean, 2, "%", ice);
    say(f, " holds %s ice by mass", ice);
  }
  if (isfinite(bath->mass_fraction)) {
    plain_words_value(100.0 * bath->mass_fraction, 3, "%", strength);
    say(f, "%s its liquid is %s strong", isfinite(bath->ice_fraction_mean) ? ";" : ":", strength);
  }
  if (isfinite(bath->freezing_onset)) {
    plain_words_value(bath->freezing_onset, 3, "degC", onset);
    say(f, "; the brine as filled begins to freeze at %s", onset);
  }
  say(f, ".");
  if (bath->touches_mould && isfinite(bath->ice_at_wall)) {
    plain_words_value(100.0 * bath->ice_at_wall, 2, "%", wall);
    say(f, " Along the mould's wall it is %s ice, %s.", wall, verdict[bath->draw]);
  }
  fputs("</p>\n", f);
}

static void answer_plant(FILE *f, const plant_result *plant)
{
  if (!plant->present)
    return;
  char heat[PLAIN_WORDS], work[PLAIN_WORDS], power[PLAIN_WORDS], evaporating[PLAIN_WORDS];
  plain_words_value(plant->heat / J_PER_KWH, 3, "kWh", heat);
  plain_words_value(plant->work / J_PER_KWH, 3, "kWh", work);
  plain_words_value(plant->mean_power, 3, "W", power);
  plain_words_value(plant->evaporating.mean, 3, "degC", evaporating);
  fputs("<p>", f);
  say(f, "The plant takes out %s of heat with %s of work, %s on average, evaporating at %s on average.", heat, work, power, evaporating);
  fputs("</p>\n", f);
}

static void write_answer(FILE *f, const rig *r, const results *res)
{
  for (size_t i = 0; i < res->num_bodies; i++) {
    answer_time(f, &res->bodies[i], res->num_bodies == 1);
    answer_last_water(f, r, &res->bodies[i]);
  }
  for (size_t i = 0; i < res->num_baths; i++)
    answer_bath(f, &res->baths[i], res->num_baths == 1);
  answer_plant(f, &res->plant);
}

/* ------------------------------------------------------------------------------------------------ warnings and cautions */

static void write_warnings(FILE *f, const results *res)
{
  if (!res->num_warnings)
    return;
  fputs("<h2>Warnings of this run</h2>\n<ul class=\"warn\">\n", f);
  for (size_t i = 0; i < res->num_warnings; i++) {
    fputs("<li>", f);
    escaped(f, res->warnings[i]);
    fputs("</li>\n", f);
  }
  fputs("</ul>\n", f);
}

static void item(FILE *f, const char *text)
{
  fputs("<li>", f);
  escaped(f, text);
  fputs("</li>\n", f);
}

/* The usual cautions of the work, those that this rig calls for. Common practice, no source. */
static void write_cautions(FILE *f, const rig *r, const results *res)
{
  char text[512], kg[PLAIN_WORDS], lb[PLAIN_WORDS];
  bool chloride = false;
  fputs("<h2>Before you start</h2>\n<ul>\n", f);
  item(f, "This is a forecast from the case as written, no promise. Local codes and licensed practice come first.");
  for (size_t i = 0; i < res->num_bodies; i++) {
    plain_words_value(res->bodies[i].mass, 3, "kg", kg);
    plain_words_value(res->bodies[i].mass * LB_PER_KG, 3, "lb", lb);
    (void)snprintf(text, sizeof text, "%s%s weighs about %s (%s), more with its mould. Plan the lift, the floor and the way before it is frozen; "
                                      "keep feet and hands from under it.", res->num_bodies == 1 ? "The block" : "The block from ", res->num_bodies == 1 ? "" : res->bodies[i].name, kg, lb);
    item(f, text);
  }
  item(f, "Water grows by about a tenth as it freezes. A closed or brim-full mould can burst; trapped water can crack or bulge the block.");
  item(f, "Ice, metal and brine this cold harm skin and eyes within seconds: gloves, goggles, sleeves.");
  for (size_t i = 0; i < r->num_baths; i++)
    chloride = chloride || brine_is_chloride(r->baths[i].salt);
  if (chloride)
    item(f, "Chloride brine eats aluminium, zinc, brass and many steels, makes floors slippery and must not go into soil or drains "
            "where that is forbidden.");
  if (r->num_baths)
    item(f, "Electric gear near brine needs earth-leakage protection and a dry place.");
  if (r->num_coils)
    item(f, "Refrigerant circuits are opened and charged by licensed people only. Refrigerant displaces air: ventilate.");
  if (r->plant.present && r->plant.refrigerant == REFRIGERANT_R290)
    item(f, "R290 is propane: flammable. No flame or spark, and charge limits of the room.");
  fputs("</ul>\n", f);
}

/* ------------------------------------------------------------------------------------------------ pictures */

static void base64(FILE *f, const unsigned char *bytes, size_t num) /* RFC 4648 */
{
  static const char digits[] = "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789+/";
  for (size_t i = 0; i < num; i += 3) {
    const unsigned b0 = bytes[i], b1 = i + 1 < num ? bytes[i + 1] : 0, b2 = i + 2 < num ? bytes[i + 2] : 0;
    const char four[4] = {digits[b0 >> 2], digits[(b0 & 3) << 4 | b1 >> 4], i + 1 < num ? digits[(b1 & 15) << 2 | b2 >> 6] : '=',
                          i + 2 < num ? digits[b2 & 63] : '='};
    (void)fwrite(four, 1, 4, f); /* a fault stays in the stream's error mark */
  }
}

typedef struct { const char *file, *caption; } picture;
static const picture PICTURES[] = {
    {"section.png", "The rig as it was understood."},
    {"freeze_time.png", "When each place froze, in hours from the start of freezing; lines join places that froze together."},
    {"frozen_share.png", "How much was ice, against time; the coolant below, if there is a coil."},
    {"temperature.png", "Temperature of the whole rig at the end."},
    {"liquid_fraction.png", "How much of the water and of the brine was liquid at the end."},
    {"ledger.png", "Where the cold came from and where it went."}};

enum { LARGEST_PICTURE = 32 << 20 };

static status write_pictures(FILE *f, const char *dir, message *msg)
{
  for (size_t i = 0; dir && i < sizeof PICTURES / sizeof *PICTURES; i++) {
    char path[WHOLE_FILE_PATH];
    status code = whole_file_join(path, dir, PICTURES[i].file, msg);
    if (code != STATUS_OK)
      return code;
    if (!whole_file_exists(path))
      continue;
    char *bytes = NULL;
    size_t num = 0;
    code = whole_file_read(path, LARGEST_PICTURE, &bytes, &num, msg);
    if (code != STATUS_OK)
      return code;
    fprintf(f, "<figure><div class=\"wide\"><img alt=\"%s\" src=\"data:image/png;base64,", PICTURES[i].caption);
    base64(f, (const unsigned char *)bytes, num);
    fprintf(f, "\"></div><figcaption>%s</figcaption></figure>\n", PICTURES[i].caption);
    free(bytes);
  }
  return STATUS_OK;
}

/* ------------------------------------------------------------------------------------------------ tables */

static void write_pockets(FILE *f, const rig *r, const results *res)
{
  size_t num = 0;
  for (size_t i = 0; i < res->num_bodies; i++)
    num += res->bodies[i].num_pockets > 1 ? res->bodies[i].num_pockets : 0;
  if (!num)
    return;
  open_table(f, "Pockets of water", "Body|Water when it parted|Parted at|Closed at|Last water at|Where|Trapped");
  for (size_t i = 0; i < res->num_bodies; i++)
    for (size_t k = 0; k < res->bodies[i].num_pockets && res->bodies[i].num_pockets > 1; k++) {
      const pocket *p = &res->bodies[i].pockets[k];
      char place[PLAIN_WORDS] = "";
      if (isfinite(p->last_at))
        plain_words_place(p->position, revolved(r), place);
      fputs("<tr>", f);
      cell(f, res->bodies[i].name);
      value_cell(f, p->mass, 3, "kg");
      duration_cell(f, p->parted_at);
      duration_cell(f, p->closed_at);
      duration_cell(f, p->last_at);
      cell(f, place);
      cell(f, p->trapped ? "yes" : "no");
      fputs("</tr>\n", f);
    }
  close_table(f);
  fputs("<p class=\"quiet\">Times from the start of the run. The first row of a body is all of its water.</p>\n", f);
}

static void write_ledger(FILE *f, const heat_ledger *ledger)
{
  if (!ledger->num)
    return;
  open_table(f, "Heat ledger, all stages", "Entry|Kind|Heat");
  for (size_t i = 0; i < ledger->num; i++) {
    fputs("<tr>", f);
    cell(f, ledger->entries[i].name);
    cell(f, i < ledger->num_paths ? "path" : "stored");
    value_cell(f, ledger->entries[i].joules / J_PER_KWH, 4, "kWh");
    fputs("</tr>\n", f);
  }
  close_table(f);
  fprintf(f, "<p class=\"quiet\">Paths: positive is heat into the rig. Stored: positive is heat gained. Paths and stored heat agree to %.1e "
             "of the heat moved.</p>\n", fabs(ledger->residual_relative));
}

static void write_stages(FILE *f, const results *res)
{
  if (!res->num_stages)
    return;
  open_table(f, "Stages", "Stage|Began|Ended|Ended by");
  for (size_t i = 0; i < res->num_stages; i++) {
    const stage_result *s = &res->stages[i];
    fputs("<tr>", f);
    cell(f, s->name);
    duration_cell(f, s->start_at);
    duration_cell(f, s->end_at);
    cell(f, s->ended_by);
    fputs("</tr>\n", f);
  }
  close_table(f);
}

static void write_events(FILE *f, const results *res)
{
  if (!res->num_events)
    return;
  open_table(f, "Events", "At|Stage|What|Where|Value");
  for (size_t i = 0; i < res->num_events; i++) {
    const run_event *e = &res->events[i];
    fputs("<tr>", f);
    duration_cell(f, e->at);
    cell(f, e->stage);
    cell(f, e->what);
    cell(f, e->where);
    value_cell(f, e->value, 4, "1");
    fputs("</tr>\n", f);
  }
  close_table(f);
}

/* ------------------------------------------------------------------------------------------------ the page */

static const char STYLE[] =
    ":root{color-scheme:light dark;--ink:#1d242c;--quiet:#5b6570;--paper:#fff;--line:#d5dae0;--card:#f5f7f9;--warn:#9a4a00}"
    "@media(prefers-color-scheme:dark){:root{--ink:#e4e8ec;--quiet:#a2acb6;--paper:#15191e;--line:#39424c;--card:#1e242b;--warn:#f0a35e}}"
    "body{margin:0 auto;max-width:56rem;padding:1.5rem 1rem 4rem;background:var(--paper);color:var(--ink);"
    "font:1rem/1.55 \"DejaVu Sans\",Verdana,sans-serif}"
    "h1{font-size:1.6rem;line-height:1.25;margin:.2rem 0 1rem}h2{font-size:1.15rem;margin:2.2rem 0 .6rem}"
    ".answer{font-size:1.3rem;line-height:1.4;font-weight:bold;margin:.8rem 0 .4rem}.quiet,figcaption,footer{color:var(--quiet);font-size:.88rem}"
    ".warn li{color:var(--warn)}figure{margin:1.6rem 0;break-inside:avoid}"
    "img{box-sizing:border-box;width:100%;height:auto;background:#fff;border:1px solid var(--line);border-radius:4px}"
    ".wide{overflow-x:auto}table{border-collapse:collapse;min-width:50%;font-size:.92rem}"
    "th,td{text-align:left;padding:.35rem .8rem .35rem 0;border-bottom:1px solid var(--line);vertical-align:top}"
    ".n{font-variant-numeric:tabular-nums;white-space:nowrap}"
    "footer{margin-top:3rem;border-top:1px solid var(--line);padding-top:.8rem}"
    "@media screen and (max-width:40rem){.wide img{width:44rem}}" /* on a phone pictures slide sideways, their words stay readable */
    "@media print{:root{color-scheme:light;--ink:#000;--quiet:#444;--paper:#fff;--line:#bbb;--warn:#703600}body{max-width:none;padding:0;font-size:10pt}"
    "tr{break-inside:avoid}}";

static void write_head(FILE *f, const rig *r)
{
  fputs("<!doctype html>\n<html lang=\"en\"><head><meta charset=\"utf-8\">\n"
        "<meta name=\"viewport\" content=\"width=device-width,initial-scale=1\">\n<link rel=\"icon\" href=\"data:,\">\n<title>", f);
  escaped(f, r->title);
  fprintf(f, "</title>\n<style>%s</style></head>\n<body>\n<h1>", STYLE);
  escaped(f, r->title);
  fputs("</h1>\n", f);
}

static void write_foot(FILE *f, const provenance *p)
{
  fputs("<footer>", f);
  if (p) {
    char wall[PLAIN_WORDS];
    plain_words_duration(p->wall, wall);
    say(f, "%s. Begun %s, computed in %s on %d thread%s.", p->program, p->started, wall, p->threads, p->threads == 1 ? "" : "s");
  } else {
    say(f, "lastwater %s.", LASTWATER_VERSION);
  }
  fputs("</footer>\n</body></html>\n", f);
}

static status write_page(FILE *f, const char *pictures_dir, const rig *r, const results *res, const provenance *p, message *msg)
{
  write_head(f, r);
  write_answer(f, r, res);
  write_warnings(f, res);
  const status code = write_pictures(f, pictures_dir, msg);
  write_cautions(f, r, res);
  write_pockets(f, r, res);
  write_ledger(f, &res->ledger);
  write_stages(f, res);
  write_events(f, res);
  write_foot(f, p);
  return code;
}

status report_page_write(const char *path, const char *pictures_dir, const rig *r, const results *res, const provenance *p,
                         message *msg)
{
  char *text = NULL;
  size_t num = 0;
  FILE *f = open_memstream(&text, &num);
  if (!f)
    return message_set(msg, STATUS_NO_MEMORY, "out of memory for the report");
  status code = write_page(f, pictures_dir, r, res, p, msg);
  const bool torn = ferror(f) != 0;
  if ((fclose(f) != 0 || torn) && code == STATUS_OK)
    code = message_set(msg, STATUS_NO_MEMORY, "out of memory for the report");
  if (code == STATUS_OK)
    code = whole_file_write(path, text, num, msg);
  free(text);
  return code;
}
