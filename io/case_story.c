#include "io/case_story.h"

#include <math.h>
#include <stdarg.h>
#include <stdio.h>
#include <string.h>

#include "io/plain_words.h"

static const double M_PER_FOOT = 0.3048;

#if defined(__GNUC__)
__attribute__((format(printf, 2, 3)))
#endif
static void say(char text[CASE_STORY], const char *format, ...)
{
  const size_t length = strlen(text);
  va_list args;
  va_start(args, format);
  (void)vsnprintf(text + length, CASE_STORY - length, format, args);
  va_end(args);
}

static void degrees(double celsius, char text[PLAIN_WORDS])
{
  (void)snprintf(text, PLAIN_WORDS, "%.4g\xC2\xA0\xC2\xB0" "C (%.0f\xC2\xA0\xC2\xB0" "F)", celsius, round(celsius * 1.8 + 32.0) + 0.0); /* blanks that do not break; no "-0" */
}

/* The vessel by its shape, as one says it: "a frustum", but "a drawn vessel". */
static const char *vessel(const char *kind)
{
  static const char *const said[][2] = {{"triangles", "drawn vessel"}, {"swept", "bent rod"}, {"union", "union of shapes"},
                                        {"difference", "difference of shapes"}, {"profile", "turned profile"}};
  for (size_t i = 0; kind && i < sizeof said / sizeof *said; i++)
    if (strcmp(kind, said[i][0]) == 0)
      return said[i][1];
  return kind && strcmp(kind, "intersection") != 0 ? kind : "vessel";
}

static void tell_body(const case_file *c, const case_facts *f, size_t i, char text[CASE_STORY])
{
  const case_liquid *b = &c->bodies[i];
  const case_part *mould = &c->parts[b->vessel];
  char volume[PLAIN_WORDS], start[PLAIN_WORDS], wall[PLAIN_WORDS], walls[PLAIN_WORDS + 16], floor[PLAIN_WORDS + 16] = "";
  plain_words_volume(b->volume, volume);
  degrees(b->temperature, start);
  plain_words_length(mould->wall, wall);
  (void)snprintf(walls, sizeof walls, mould->wall > 0.0 ? "a wall of %s" : "its walls as drawn", wall);
  if (mould->wall_floor != mould->wall) {
    char thickness[PLAIN_WORDS];
    plain_words_length(mould->wall_floor, thickness);
    (void)snprintf(floor, sizeof floor, " and a floor of %s", thickness);
  }
  say(text, "%s%s of %s at %s %s poured into %s, a %s of %s with %s%s, %s.", i ? " " : "", volume, b->name, start, i ? "more are" : "are",
      mould->name, vessel(mould->kind), mould->solid ? mould->solid : "a material of its own", walls, floor,
      mould->open_top ? "open at the top" : "closed all round");
  const motion *flow = &c->rig.bodies[i].flow;
  if (flow->kind != MOTION_STILL)
    say(text, " The water is %s.", flow->by_air ? "stirred by the air blown through it" : flow->speed > 0.0 ? "pumped round" : flow->kind == MOTION_STIRRED ? "stirred" : "taken as not moving");
  const int bath = f->bodies[i].bath;
  if (bath >= 0) {
    const rig_bath *q = &c->rig.baths[bath];
    char depth[PLAIN_WORDS], at[PLAIN_WORDS];
    plain_words_length(c->baths[bath].level - mould->floor, depth);
    degrees(c->baths[bath].temperature, at);
    say(text, " It stands %s deep in %s, %.3g %% %s at %s, %s.", depth, c->baths[bath].name, 100.0 * q->mass_fraction, brine_name(q->salt), at,
        q->flow.speed > 0.0 ? "pumped round" : q->flow.kind == MOTION_STIRRED ? "stirred" : q->flow.kind == MOTION_STILL ? "left still" : "without motion");
  } else {
    char air[PLAIN_WORDS];
    degrees(schedule_at(&c->rig.room.temperature, 0.0), air);
    say(text, " Round it is the air of the room, at %s.", air);
  }
}

static void tell_cold(const case_file *c, char text[CASE_STORY])
{
  const rig *r = &c->rig;
  for (size_t i = 0; i < r->num_coils; i++) {
    char way[2 * PLAIN_WORDS], cold[PLAIN_WORDS];
    if (r->coils[i].conductance > 0.0)
      (void)snprintf(way, sizeof way, "channels in %s", r->parts[r->coils[i].part].name);
    else
      (void)snprintf(way, sizeof way, "%.3g m (%.3g ft) of tube", r->coils[i].length, r->coils[i].length / M_PER_FOOT);
    if (r->coils[i].coolant == COOLANT_FIXED) {
      degrees(schedule_at(&r->coils[i].temperature, 0.0), cold);
      say(text, " The cold comes through %s (%s) with its coolant at %s%s.", way, r->coils[i].name, cold,
          r->coils[i].temperature.num > 1 ? " at first" : "");
    } else {
      say(text, " The cold comes through %s (%s)", way, r->coils[i].name);
      say(text, " from %zu compressor%s on %s.", r->plant.num_compressors, r->plant.num_compressors == 1 ? "" : "s",
          refrigerant_name(r->plant.refrigerant) ? refrigerant_name(r->plant.refrigerant) : "its refrigerant");
    }
  }
  if (r->plant.present && r->plant.thermostat_part >= 0) {
    char set[PLAIN_WORDS];
    degrees(r->plant.set_point, set);
    say(text, " A thermostat holds %s at %s.", r->parts[r->plant.thermostat_part].name, set);
  }
}

/* What ends a stage that has an aim beside time. */
static const char *aim(stage_end until)
{
  switch (until) {
    case UNTIL_FROZEN: return "until all of it is ice";
    case UNTIL_RELEASED: return "until the mould lets go of the ice";
    case UNTIL_LETS_GO: return "until no bath holds a mould any more";
    case UNTIL_MELTED: return "until the ice has gone";
    case UNTIL_TIME:
    case UNTIL_PART_BELOW:
    case UNTIL_PART_ABOVE: break;
  }
  return NULL;
}

/* How the liquids are driven that do not move by themselves. */
static bool is_any_stirred(const rig *r)
{
  bool any = false;
  for (size_t i = 0; i < r->num_bodies; i++)
    any = any || (r->bodies[i].flow.kind == MOTION_STIRRED && !r->bodies[i].flow.by_air);
  for (size_t i = 0; i < r->num_baths; i++)
    any = any || r->baths[i].flow.kind == MOTION_STIRRED;
  return any;
}

static bool is_any_aerated(const rig *r)
{
  bool any = false;
  for (size_t i = 0; i < r->num_bodies; i++)
    any = any || r->bodies[i].clouding.aerated;
  return any;
}

/* What is otherwise in this stage than in others. */
static void say_conditions(const rig *r, size_t stage, char text[CASE_STORY])
{
  const rig_stage *s = &r->stages[stage];
  char at[PLAIN_WORDS];
  bool rules = false;
  for (size_t i = 0; i < r->num_rules; i++)
    rules = rules || r->rules[i].stage == (int)stage + 1;
  if (rig_stage_is_of_piece(s) || (s->until == UNTIL_TIME && !(s->limit > 0.0)))
    return;
  if (r->plant.present && s->plant != STAGE_PLANT_COOLS)
    say(text, ", %s", s->plant == STAGE_PLANT_HEATS ? "the plant in reverse" : "the plant off");
  if (s->stirrers_stand && is_any_stirred(r))
    say(text, ", stirrers off");
  if (s->air_off && is_any_aerated(r))
    say(text, ", air off");
  if (s->changes_set_point) {
    degrees(s->set_point, at);
    say(text, ", the thermostat at %s", at);
  }
  if (s->changes_room) {
    degrees(s->room, at);
    say(text, ", the room at %s", at);
  }
  if (rules)
    say(text, ", with surfaces of its own");
}

static void tell_stages(const case_file *c, char text[CASE_STORY])
{
  for (size_t i = 0; i < c->rig.num_stages; i++) {
    const rig_stage *s = &c->rig.stages[i];
    char limit[PLAIN_WORDS], watched[PLAIN_WORDS];
    plain_words_duration(s->limit, limit);
    if (aim(s->until))
      say(text, " Stage %s: %s, at most %s", s->name, aim(s->until), limit);
    else if (s->until == UNTIL_TIME && s->limit > 0.0)
      say(text, " Stage %s: for %s", s->name, limit);
    else if (s->until == UNTIL_TIME)
      say(text, " Stage %s: at once", s->name);
    else {
      degrees(s->temperature, watched);
      say(text, " Stage %s: until %s is at %s, at most %s", s->name, c->rig.parts[s->part].name, watched, limit);
    }
    say_conditions(&c->rig, i, text);
    say(text, ".");
  }
}

void case_story_tell(const case_file *c, const case_facts *f, char text[CASE_STORY])
{
  text[0] = '\0';
  for (size_t i = 0; i < c->rig.num_bodies; i++)
    tell_body(c, f, i, text);
  tell_cold(c, text);
  tell_stages(c, text);
  if (strlen(text) == CASE_STORY - 1) /* whole words only */
    *strrchr(text, ' ') = '\0';
}
