/* Stages, probes, and how the case is run. */
#include <math.h>
#include <string.h>

#include "io/case_build.h"

enum { PATH = 96, MOST_THREADS = 1024 };
static const double DEFAULT_LIMIT = 120.0 * 3600.0; /* s, as in the table of keys */

static void read_watched_part(const case_build *b, const yaml_node *until, const char *path, rig_stage *out)
{
  static const char *const ways[] = {"below", "above"};
  const int way = case_build_one_of(b, until, path, ways, 2);
  out->part = case_build_find_rig_part(b, case_build_text(until, SECTION_UNTIL, "part"));
  if (way < 0 || out->part < 0)
    return;
  out->until = way == 0 ? UNTIL_PART_BELOW : UNTIL_PART_ABOVE;
  (void)case_build_quantity(b, until, SECTION_UNTIL, ways[way], &out->temperature);
}

static void make_stage(const case_build *b, const yaml_node *item, rig_stage *out)
{
  static const stage_kind kinds[] = {STAGE_PRECOOL, STAGE_FREEZE, STAGE_HOLD};
  char path[PATH];
  const int kind = case_build_choice(item, SECTION_STAGE, "kind");
  const yaml_node *until = yaml_tree_value(item, "until");
  (void)snprintf(out->name, sizeof out->name, "%s", yaml_tree_value(item, "name")->text);
  (void)snprintf(path, sizeof path, "stages.%s", out->name);
  out->kind = kinds[kind < 0 ? 1 : kind];
  out->until = out->kind == STAGE_FREEZE && !case_build_has(item, "for") ? UNTIL_FROZEN : UNTIL_TIME;
  if (until && until->kind == YAML_MAP)
    read_watched_part(b, until, path, out);
  else if (until)
    out->until = strcmp(until->text, "frozen") == 0 ? UNTIL_FROZEN : UNTIL_TIME;
  const bool timed = out->until == UNTIL_TIME;
  if (timed && !case_build_has(item, "for"))
    case_build_fault(b, item, "until", "%s: time ends this stage; say how long with \"for\"", path);
  if (timed && case_build_has(item, "limit"))
    case_build_fault(b, item, "limit", "%s: \"limit\" goes with another end than time; \"for\" is enough", path);
  if (!timed && case_build_has(item, "for"))
    case_build_fault(b, item, "for", "%s: \"for\" goes with until: time; the longest time of this stage is its \"limit\"", path);
  (void)case_build_quantity(b, item, SECTION_STAGE, timed ? "for" : "limit", &out->limit);
}

static status make_stages(case_build *b)
{
  rig *r = &b->c->rig;
  const yaml_node *list = yaml_tree_value(b->c->tree, "stages");
  const size_t num = list && list->kind == YAML_LIST ? list->num : 0;
  r->stages = case_store_array(b->c->store, num + 1, sizeof *r->stages, b->msg);
  if (!r->stages)
    return STATUS_NO_MEMORY;
  for (size_t i = 0; i < num; i++)
    if (case_build_is_sound(b, list->items[i]))
      make_stage(b, list->items[i], &r->stages[r->num_stages++]);
  if (!list) {
    r->stages[0] = (rig_stage){.name = "freeze", .kind = STAGE_FREEZE, .until = UNTIL_FROZEN, .limit = DEFAULT_LIMIT};
    r->num_stages = 1;
  } else if (list->kind == YAML_LIST && list->num == 0) {
    case_build_fault(b, b->c->tree, "stages", "stages: the list is empty; leave the key out for one freeze");
  }
  return STATUS_OK;
}

static status make_probes(case_build *b)
{
  rig *r = &b->c->rig;
  const yaml_node *list = yaml_tree_value(b->c->tree, "probes");
  const size_t num = list && list->kind == YAML_LIST ? list->num : 0;
  r->probes = case_store_array(b->c->store, num, sizeof *r->probes, b->msg);
  if (!r->probes)
    return STATUS_NO_MEMORY;
  for (size_t i = 0; i < num; i++) {
    double at[3] = {0.0, 0.0, 0.0};
    const yaml_node *item = list->items[i];
    if (!case_build_is_sound(b, item) || !case_build_point(b, yaml_tree_value(item, "at"), b->c->revolved ? 2 : 3, at))
      continue;
    rig_probe *probe = &r->probes[r->num_probes++];
    (void)snprintf(probe->name, sizeof probe->name, "%s", yaml_tree_value(item, "name")->text);
    probe->point[0] = at[0];
    probe->point[1] = b->c->revolved ? 0.0 : at[1];
    probe->point[2] = b->c->revolved ? at[1] : at[2];
    if (b->c->revolved && at[0] < 0.0)
      case_build_fault(b, item, "at", "probes.%s: the radius %.4g mm is negative", probe->name, 1e3 * at[0]);
  }
  return STATUS_OK;
}

static void make_control(const case_build *b)
{
  rig_control *k = &b->c->rig.control;
  const yaml_node *map = yaml_tree_value(b->c->tree, "run");
  double threads = 0.0;
  k->integrator = case_build_choice(map, SECTION_RUN, "integrator") == 1 ? INTEGRATOR_BDF : INTEGRATOR_STABILISED;
  (void)case_build_quantity(b, map, SECTION_RUN, "tolerance", &k->tolerance);
  (void)case_build_quantity(b, map, SECTION_RUN, "longest_step", &k->longest_step);
  (void)case_build_quantity(b, map, SECTION_RUN, "store_every", &k->output_interval);
  (void)case_build_quantity(b, map, SECTION_RUN, "series_every", &k->series_interval);
  (void)case_build_quantity(b, map, SECTION_RUN, "checkpoint_every", &k->checkpoint_interval);
  (void)case_build_quantity(b, map, SECTION_RUN, "threads", &threads);
  if (threads != floor(threads) || threads > MOST_THREADS)
    case_build_fault(b, map, "threads", "run.threads: a whole number from 1 to %d is accepted", MOST_THREADS);
  else
    k->threads = (int)threads;
  if (k->tolerance > 1.0)
    case_build_fault(b, map, "tolerance", "run.tolerance: %.3g is no tolerance; at most 1 is accepted (usual: 0.1, bdf 0.001)", k->tolerance);
}

status case_stages_build(case_build *b)
{
  status code = make_stages(b);
  if (code == STATUS_OK)
    code = make_probes(b);
  make_control(b);
  return code;
}
