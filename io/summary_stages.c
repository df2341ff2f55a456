#include "io/summary_stages.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#include "io/plain_words.h"
#include "io/sentence.h"

enum { LONGEST_STAGE = 240 }; /* characters: of one stage and the end of the sentence */

static const char *risk_word(double index) { return index < 0.5 ? NULL : index < 1.0 ? "a crack is possible" : "a crack is likely"; }

/* A release that waits for the bath, or for a time or a temperature, is over when that came, whatever the film. */
static void say_release(sentence *s, const stage_result *stage)
{
  const release_result *r = &stage->release;
  if (isnan(r->time) && strcmp(stage->ended_by, "time limit") == 0)
    sentence_say(s, ", not released");
  else if (r->ice_lost > 0.0)
    sentence_say(s, ", %.2f kg of ice lost", r->ice_lost);
}

static void say_piece(sentence *s, const stage_result *stage)
{
  const piece_result *p = &stage->piece;
  const char *risk = risk_word(p->crack_index);
  char time[PLAIN_WORDS];
  if (stage->kind == STAGE_MELT && isnan(p->time))
    sentence_say(s, ", %.1f of %.1f kg left", p->mass_end, p->mass_start);
  else if (stage->kind == STAGE_MELT && isfinite(p->mark[0])) {
    plain_words_duration(p->mark[0], time);
    sentence_say(s, ", half gone after %s", time);
  } else if (isfinite(p->mean_temperature) && stage->kind == STAGE_TEMPER)
    sentence_say(s, ", ice then at %.1f degC", round(10.0 * p->mean_temperature) / 10.0 + 0.0); /* no "-0.0" */
  if (p->pool_ice >= 0.005)
    sentence_say(s, ", %.2f kg of its pool frozen", p->pool_ice);
  if (risk && p->warmest_start < -0.05)
    sentence_say(s, " (%s: let it warm to %.0f degC first)", risk, p->warmest_start);
  else if (risk)
    sentence_say(s, " (%s)", risk);
}

/* What lasts by how long, what is done at once by when: somebody must be there. */
static void say_stage(sentence *s, const stage_result *stage)
{
  const double length = stage->end_at - stage->start_at;
  char time[PLAIN_WORDS];
  plain_words_duration(length > 0.0 ? length : stage->start_at, time);
  if (length > 0.0)
    sentence_say(s, "%s %s", stage->name, time);
  else
    sentence_say(s, "%s at %s", stage->name, stage->start_at > 0.0 ? time : "the start");
  if (strcmp(stage->ended_by, "time limit") == 0)
    sentence_say(s, " (time limit)");
  if (stage->freeze.present && stage->freeze.complete) {
    plain_words_duration(stage->start_at + stage->freeze.time, time);
    sentence_say(s, ", solid at %s", time);
  }
  if (stage->release.present)
    say_release(s, stage);
  if (stage->piece.present)
    say_piece(s, stage);
}

void summary_stages_tell(const results *res, char text[SUMMARY_STAGES_TEXT])
{
  sentence s = sentence_begin(text, SUMMARY_STAGES_TEXT);
  text[0] = '\0';
  if (res->num_stages < 2)
    return;
  sentence_say(&s, "Stages: ");
  size_t i = 0;
  for (; i < res->num_stages && s.used + LONGEST_STAGE < SUMMARY_STAGES_TEXT; i++) {
    if (i > 0)
      sentence_say(&s, "; ");
    say_stage(&s, &res->stages[i]);
  }
  if (i < res->num_stages)
    sentence_say(&s, "; %zu more in summary.json", res->num_stages - i);
  sentence_say(&s, ".");
}
