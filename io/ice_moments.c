#include "io/ice_moments.h"

#include <math.h>

#include "io/quantity.h"

double ice_moments_start(const rig *r, const results *res)
{
  for (size_t i = 0; i < res->num_stages && i < r->num_stages; i++)
    if (r->stages[i].kind == STAGE_FREEZE)
      return res->stages[i].start_at;
  return 0.0;
}

double ice_moments_end(const results *res)
{
  double end = 0.0;
  for (size_t i = 0; i < res->num_stages; i++)
    end = res->stages[i].end_at > end ? res->stages[i].end_at : end;
  return end;
}

/* ------------------------------------------------------------------------------------------------ shares and times */

static bool is_of(const ice_moments_of *of, int body, size_t node)
{
  const int32_t part = of->mesh->part[node];
  return of->mesh->volume[node] > 0.0 && (body >= 0 ? part == of->rig->bodies[body].part : of->rig->parts[part].kind == PART_WATER);
}

double ice_moments_share(const ice_moments_of *of, int body, double at)
{
  const mesh *m = of->mesh;
  double ice = 0.0, all = 0.0;
  for (size_t i = 0; i < m->num_nodes; i++) {
    if (!is_of(of, body, i))
      continue;
    all += m->volume[i];
    if (of->results->freeze_time[i] <= at)
      ice += m->volume[i];
  }
  return all > 0.0 ? ice / all : 0.0;
}

double ice_moments_time(const ice_moments_of *of, int body, double share)
{
  enum { HALVINGS = 40 };
  double low = 0.0, high = ice_moments_end(of->results);
  if (ice_moments_share(of, body, high) < share)
    return INFINITY;
  for (int i = 0; i < HALVINGS; i++) {
    const double middle = 0.5 * (low + high);
    if (ice_moments_share(of, body, middle) < share)
      low = middle;
    else
      high = middle;
  }
  return high;
}

double ice_moments_alone(const body_result *b, size_t index)
{
  const pocket *p = &b->pockets[index];
  double at = p->parent >= 0 ? p->parted_at : NAN;
  for (size_t i = 0; i < b->num_pockets; i++)
    if (b->pockets[i].parent == (int)index)
      at = fmax(at, b->pockets[i].parted_at);
  return p->trapped ? fmax(at, p->closed_at) : at; /* fmax leaves out what is not a number */
}

/* ------------------------------------------------------------------------------------------------ words */

static ice_moment moment_at(const ice_moments_of *of, double at, const char *what)
{
  ice_moment out = {.at = at, .share = ice_moments_share(of, ICE_MOMENTS_ALL, at)};
  char after[PLAIN_WORDS], share[PLAIN_WORDS];
  plain_words_duration(at - ice_moments_start(of->rig, of->results), after);
  plain_words_value(100.0 * out.share, out.share > 0.99 && out.share < 1.0 ? 3 : 2, "%", share);
  if (what)
    (void)snprintf(out.words, sizeof out.words, "%s, after %s", what, after);
  else
    (void)snprintf(out.words, sizeof out.words, "after %s: %s frozen", after, share);
  return out;
}

/* ------------------------------------------------------------------------------------------------ which */

static double last_alone(const results *res)
{
  double last = NAN;
  for (size_t body = 0; body < res->num_bodies; body++)
    for (size_t i = 0; i < res->bodies[body].num_pockets; i++)
      last = fmax(last, ice_moments_alone(&res->bodies[body], i));
  return last;
}

size_t ice_moments_usual(const ice_moments_of *of, ice_moment out[ICE_MOMENTS_MOST])
{
  static const struct { double share; const char *words; } usual[3] = {{0.5, "50 % frozen"}, {0.9, "90 % frozen"}, {0.99, "99 % frozen"}};
  const double alone = last_alone(of->results), start = ice_moments_start(of->rig, of->results);
  const bool parted = alone > start;
  size_t num = 0;
  for (size_t i = 0; i < (parted ? 2u : 3u); i++) {
    const double at = ice_moments_time(of, ICE_MOMENTS_ALL, usual[i].share);
    if (isfinite(at))
      out[num++] = moment_at(of, at, usual[i].words);
  }
  if (parted) {
    size_t place = num++;
    for (; place > 0 && out[place - 1].at > alone; place--)
      out[place] = out[place - 1];
    out[place] = moment_at(of, alone, "last pocket cut off");
  }
  if (num < 3 && !isfinite(ice_moments_time(of, ICE_MOMENTS_ALL, 0.99)))
    out[num++] = moment_at(of, ice_moments_end(of->results), NULL);
  return num;
}

static status read_one(const ice_moments_of *of, const quantity_system *units, const char *text, ice_moment *out, message *msg)
{
  quantity q;
  const double start = ice_moments_start(of->rig, of->results), end = ice_moments_end(of->results);
  double at = NAN;
  if (quantity_parse(units, QUANTITY_TIME, text, &q, NULL) == STATUS_OK)
    at = start + q.value;
  else if (quantity_parse(units, QUANTITY_SHARE, text, &q, NULL) == STATUS_OK)
    at = ice_moments_time(of, ICE_MOMENTS_ALL, q.value);
  else
    return message_set(msg, STATUS_BAD_INPUT, "--at %.60s: a time from the start of freezing (\"3 h\") or a share of ice (\"80 %%\") is accepted", text);
  if (!(at >= start && at <= end)) {
    char longest[PLAIN_WORDS];
    plain_words_duration(end - start, longest);
    return message_set(msg, STATUS_BAD_INPUT, "--at %.60s: this run has no such moment, it lasted %s", text, longest);
  }
  *out = moment_at(of, at, NULL);
  return STATUS_OK;
}

status ice_moments_read(const ice_moments_of *of, const char *const *texts, size_t num, ice_moment out[ICE_MOMENTS_MOST], message *msg)
{
  quantity_system *units = NULL;
  if (num > ICE_MOMENTS_MOST)
    return message_set(msg, STATUS_BAD_INPUT, "--at is given %zu times: %d moments at most", num, ICE_MOMENTS_MOST);
  status code = quantity_system_create(&units, msg);
  for (size_t i = 0; code == STATUS_OK && i < num; i++)
    code = read_one(of, units, texts[i], &out[i], msg);
  quantity_system_destroy(&units);
  return code;
}
