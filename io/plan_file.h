/* A plan: one case, what varies, and what is wanted of it. Plans drive `sweep` (a table over many points) and `seek` (the input that
 * meets a target, or the best one). Plans are YAML, with the same strictness as cases:
 *
 *   title: one line
 *   case: case.yaml                     beside the plan
 *   set: {room.temperature: 22 C}       changes for all runs, as --set
 *   vary:                               what varies; keys are called as --set calls them
 *     - {key: parts.foam.wall, values: [30 mm, 50 mm, 80 mm]}
 *     - {key: baths.brine.strength, from: 18 %, to: 24 %, steps: 4}      by: even | ratio
 *   report: [freeze.time_s, plant.work_J]    paths into summary.json
 *   goals: [{path: freeze.time_s, best: least}, ...]
 *
 *   sweep alone:  design: grid | one_at_a_time | latin_hypercube | sobol;  points, seed;  keep: summary | all
 *   seek alone:   target: {path, value, within}, or goals with limits: [{path, most, least}];  runs: the most that may be made */
#ifndef LASTWATER_PLAN_FILE_H
#define LASTWATER_PLAN_FILE_H

#include <stdint.h>

#include "io/case_path.h"

enum { PLAN_PATH = 160, PLAN_MOST_INPUTS = 64 };

typedef enum { PLAN_SWEEP, PLAN_SEEK } plan_use;
typedef enum { DESIGN_GRID, DESIGN_ONE_AT_A_TIME, DESIGN_LATIN_HYPERCUBE, DESIGN_SOBOL } plan_design;

typedef struct {
  char key[PLAN_PATH];        /* as --set takes it                                                          */
  fault_place at;
  const case_key *what;
  bool numeric;               /* its values are numbers with a unit                                         */
  bool gauge;                 /* of pressures: gauge                                                        */
  char *base;                 /* what the case says or its preset, owned; NULL: the case says nothing       */
  double base_number;         /* SI; NAN                                                                    */
  size_t num_levels;          /* listed values, or steps of a range; 0: any value from low to high           */
  char **level;               /* [num_levels] as --set takes them, owned                                     */
  double *level_number;       /* [num_levels] SI; NAN: a word                                                */
  bool range, ratio;          /* from and to were given; steps by equal ratios                              */
  double low, high;           /* in `unit`                                                                  */
  char unit[48];              /* what the numbers of a range are written in                                  */
} plan_input;

typedef enum { GOAL_LEAST, GOAL_MOST } plan_best;
typedef struct { char path[PLAN_PATH]; plan_best best; } plan_goal;
typedef struct { char path[PLAN_PATH]; double least, most; } plan_limit; /* in the unit of the path; NAN: none */
typedef struct { bool present; char path[PLAN_PATH]; double value; double within; } plan_target; /* within: in the unit of the path */

typedef struct {
  char *path;                 /* of the plan, as given                                                      */
  char *case_path, *case_text;
  size_t case_length;
  char title[128];
  yaml_node *tree, *case_tree;
  const quantity_system *units;
  quantity_system *own_units; /* when they are its own                                                       */
  size_t num_set;  char **set;           /* "key=value", the plan's and the command line's                   */
  size_t num_inputs;  plan_input *inputs;
  size_t num_report;  char (*report)[PLAN_PATH]; /* every goal, limit and target is among them               */
  size_t num_goals;  plan_goal *goals;
  size_t num_limits;  plan_limit *limits;
  plan_target target;
  plan_design design;
  size_t points;              /* latin_hypercube, sobol                                                     */
  uint64_t seed;
  bool keep_all;
  size_t runs;                /* seek: the most that may be made                                             */
  uint64_t identity;          /* equal for plans that mean the same runs and report, else different          */
} plan_file;

/* Reads a plan and its case. overrides: `key.path=value` of the command line, for all runs. STATUS_BAD_INPUT: *faults (allocated, or NULL)
 * holds all faults as lines. The case as the plan sets it is read to the end too, so that a wrong case is told before the first run. */
status plan_file_read(plan_file **out, const char *path, plan_use use, const char *const *overrides, size_t num_overrides, char **faults,
                      message *msg);
/* The plan alone, from memory, against the text of its case: what the reader of files does between reading and trying the case. units:
 * borrowed for the plan's life. */
status plan_file_parse(plan_file **out, const char *path, const char *text, size_t length, const char *case_text, size_t case_length,
                       plan_use use, const quantity_system *units, char **faults, message *msg);
void plan_file_destroy(plan_file **p); /* NULL-safe */

/* A number in the unit of the range as --set takes it, and its SI value. */
void plan_file_number_text(const plan_input *in, double number, char *text, size_t size);

#endif
