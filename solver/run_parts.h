/* The inside of a run: what it owns, how that is made, noted down, shown, saved and restored. Used by run.c and run_finish.c. */
#ifndef LASTWATER_RUN_PARTS_H
#define LASTWATER_RUN_PARTS_H

#include "solver/adjacency.h"
#include "solver/body_watch.h"
#include "solver/coolant.h"
#include "solver/front.h"
#include "solver/heat_step.h"
#include "solver/ledger.h"
#include "solver/liquids.h"
#include "solver/melt.h"
#include "solver/run.h"
#include "solver/run_both.h"
#include "solver/run_switch_off.h"

typedef enum { DO_STAGE_START, DO_STEP, DO_HAND_OUT, DO_STAGE_END, DO_FINISH, DO_NOTHING } run_doing;

/* Scalars of the march, saved as they stand. */
enum {
  CLOCK_TIME,            /* s */
  CLOCK_NEXT_STEP,       /* s, the controller's next step */
  CLOCK_LAST_ERROR,
  CLOCK_OPEN,            /* J, thermal_state */
  CLOCK_NODES_AHEAD,     /* thermal_state */
  CLOCK_STAGE,           /* index */
  CLOCK_DOING,           /* run_doing */
  CLOCK_STAGE_START,     /* s */
  CLOCK_STAGE_OVER,      /* 0 no, 1 condition met, 2 limit reached */
  CLOCK_NEXT_STORE,      /* s */
  CLOCK_NEXT_SERIES,     /* s */
  CLOCK_NEXT_CHECKPOINT, /* s */
  CLOCK_CARRIED,         /* J that poured water and ice brought or took, since the start */
  CLOCK_DISSOLVED,       /* J that salt let go as it dissolved, since the start */
  CLOCK_DIPPED,          /* J that the water of dips gave, since the start              */
  CLOCK_ROUNDS,          /* evaluations of the heat balance since the start: ledger.h   */
  CLOCK_LOST_ICE,        /* kg of ice at the start of a release, for its loss            */
  CLOCK_NUM_EVENTS,
  CLOCK_NUM_ROWS,
  CLOCK_NUM
};

enum { STAGE_MEMORY = 56, RUN_PIECE_MARKS = 4, STATE_FIELDS_MOST = 64 };

struct run {
  const rig *rig; /* borrowed */
  mesh *mesh;
  adjacency neighbours;    /* same-part nodes side by side */
  network *net;
  liquids *liquids;
  coolant *coolant;
  heat_step *step;
  bool checkpoint_asked;   /* at the next step, whatever the clock says */
  size_t stages_seen;      /* of heat_step_counts, at the last accepted step */
  run_switch_off *switch_off; /* when the plant could stand, while it is worked out; else NULL */
  run_both *both;          /* the second answer of a still bath, while it is worked out; else NULL */
  thermal_state state;
  front_track *front;
  body_watch *bodies;      /* [num_bodies] */
  double *body_memory;     /* [num_bodies * BODY_WATCH_MEMORY] for checkpoints */
  double *judged_memory;   /* the same as they were at the end of the judged stage */
  melt *piece;             /* out of its mould; NULL before */
  size_t piece_length;     /* of its memory, 0: the rig has no such stage */
  double *piece_memory;    /* [piece_length], for checkpoints */
  size_t aside_length;     /* 0: no stage dips */
  double *aside;           /* [aside_length] enthalpies as a dip began */
  double piece_row[2];     /* mass, temperature of the piece in the next row of the series */
  double *piece_marks;     /* [num_stages + 1] RUN_PIECE_MARKS heats, J, since the piece came out */
  double *mark_memory;     /* [num_stages + 1] ledger marks: at the start of each stage and at the end */
  double *stage_memory;    /* [num_stages * STAGE_MEMORY] */
  size_t stage;
  run_doing doing;
  double clock[CLOCK_NUM];
  size_t event_capacity;
  double *temperature, *liquid_fraction, *blend; /* shown state; [mesh nodes], [mesh nodes], [network nodes] */
  front_levels *front_levels; /* [unknowns] work: the levels of the nodes of the front */
  double shown_time;
  results results;
  state_field fields[STATE_FIELDS_MOST];
};

/* The stage at whose end bodies and baths are judged (rig.h). Their times count from the start of the first freeze. */
size_t run_parts_judged_stage(const rig *r);

/* The smallest latent heat of any water in the rig, J/m3; without water, 3e8. */
double run_parts_latent_scale(const rig *r);
status run_parts_allocate(run *x, message *msg);
status run_parts_initial_state(run *x, message *msg);
status run_parts_columns(run *x, message *msg); /* the columns of the series */
void run_parts_release(run *x);

/* The first row of any table in time that lies after `time`, s; INFINITY when none: steps land on it. */
double run_parts_next_table_row(const rig *r, double time);

ledger_mark run_parts_mark_at(const run *x, size_t which); /* ledger mark number `which` */
status run_parts_mark(run *x, size_t which, message *msg); /* takes it, of the present state */
void run_parts_save_stage(run *x);
void run_parts_note_front(run *x, double t0, const double *before, double t1);
status run_parts_note_events(run *x, double t0, double t1, message *msg);
status run_parts_note_moisture(run *x, message *msg); /* what the air gave to open baths */
status run_parts_add_event(run *x, const char *what, const char *where, double value, message *msg);
/* Marks and shares of the bodies as they stood when the first freeze ended. */
void run_parts_keep_judged(run *x);
void run_parts_load_judged(run *x);
/* Fills the shown arrays from enthalpies. */
void run_parts_show_state(run *x, const double *enthalpy);
/* Series rows inside a step of the piece from t0 to now: from and to hold its mass, kg, and mean temperature, degC. */
status run_parts_note_piece(run *x, double t0, const double from[2], const double to[2], message *msg);
status run_parts_note_series(run *x, double t0, const double *before, double t1, message *msg);
/* Fills the shown arrays for a time inside the last step (linear in enthalpy) or for the present. */
void run_parts_show(run *x, double time);
/* A checkpoint is a restart whether or not anybody resumes. */
void run_parts_forget_history(run *x);

#endif
