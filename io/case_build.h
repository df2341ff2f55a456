/* What the builders of a case share: the case, the units, the list of faults, and the reading of values by the table of keys.
 *
 * A builder adds faults and goes on; an item with a fault is not `sound` and whatever leans on it is passed over in silence, so that one
 * mistake is told once. Functions that return status fail only when memory is out. */
#ifndef LASTWATER_CASE_BUILD_H
#define LASTWATER_CASE_BUILD_H

#include "io/case_file.h"
#include "io/case_keys.h"
#include "io/quantity.h"
#include "io/run_cost.h"

typedef struct {
  case_file *c;
  const quantity_system *units;
  fault_list *faults;
  message *msg;
} case_build;

/* Value of a key, or of its preset when it is missing. False when neither is there or the value is faulty; *out is then untouched. */
bool case_build_quantity(const case_build *b, const yaml_node *map, case_section section, const char *key, double *out);
bool case_build_pressure(const case_build *b, const yaml_node *map, case_section section, const char *key, double site, double *gauge);
/* Text of a key or its preset; NULL when there is neither. */
const char *case_build_text(const yaml_node *map, case_section section, const char *key);
bool case_build_flag(const yaml_node *map, case_section section, const char *key);
/* Index among the choices of the key; -1 when missing or wrong. */
int case_build_choice(const yaml_node *map, case_section section, const char *key);
/* A schedule from a key or its preset; num 0 when there is neither. Its arrays belong to the store. */
status case_build_schedule(const case_build *b, const yaml_node *map, case_section section, const char *key, schedule *out);
/* One row; its arrays belong to the store. */
status case_build_constant(const case_build *b, double value, schedule *out);
/* Numbers of a list of lengths; false when one is faulty. */
bool case_build_point(const case_build *b, const yaml_node *list, size_t num, double *out);
bool case_build_number(const case_build *b, quantity_kind kind, const yaml_node *value, double *out);
bool case_build_has(const yaml_node *map, const char *key);

/* Adds a fault at a key's value when it is there, else at the map. */
#if defined(__GNUC__)
__attribute__((format(printf, 4, 5)))
#endif
void case_build_fault(const case_build *b, const yaml_node *map, const char *key, const char *format, ...);

/* Exactly one of the keys is given: returns its index, else adds a fault and returns -1. `what` is the item, e.g. "bodies.water". */
int case_build_one_of(const case_build *b, const yaml_node *map, const char *what, const char *const *keys, size_t num);

/* Index of a listed part by name, -1. */
int case_build_find_part(const case_build *b, const char *name);
/* Index into rig.parts of a part, body or bath by name, -1. */
int case_build_find_rig_part(const case_build *b, const char *name);

/* True when no fault was told so far at any place of the tree under item. */
bool case_build_is_sound(const case_build *b, const yaml_node *item);

/* The builders, in the order in which they are called. */
status case_room_build(case_build *b);      /* case_room.c: the air around                             */
/* Temperature of the mains, degC: of the month that `map` names under section's "month", without it of the month in which the run begins. False
 * without a table, or when a fault was told: the month asked for is not in the table. case_mains.c */
bool case_mains_temperature(const case_build *b, const yaml_node *map, case_section section, double *out);
status case_parts_build(case_build *b);     /* case_parts.c: shapes and what they are made of          */
void case_coils_settle(case_build *b);      /* once the rig's parts are known: which of them have channels */
status case_coils_build(case_build *b);     /* case_coils.c                                            */
status case_liquids_build(case_build *b);   /* case_liquids.c: levels; then all parts of the rig in order */
status case_surfaces_build(case_build *b);  /* case_surfaces.c                                         */
status case_stages_build(case_build *b);    /* case_stages.c: stages, probes, control                  */
status case_plant_build(case_build *b);     /* case_plant.c                                            */
status case_grid_build(case_build *b);      /* case_grid.c                                             */
run_cost_rig case_grid_cost(const case_file *c); /* what counts for the cost of a run */
status case_sense_check(case_build *b);     /* case_sense.c: what cannot work                          */
/* A material from the name of a solid or a map; *solid: the name, or NULL. NULL when faulty or out of memory. */
const material *case_material_build(case_build *b, const yaml_node *map, case_section section, const char *what, const char **solid);
const material *case_material_from_map(case_build *b, const yaml_node *figures, const char *what);

#endif
