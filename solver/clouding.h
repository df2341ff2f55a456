/* Air and minerals of one body of water, followed along its pockets while it froze: where the ice is clear, hazy or white.
 *
 * A pass over the finished history of the front (clouding_history.h); it changes nothing in the heat balance. Every pocket is one
 * mixed liquid. It keeps what the ice rejects, hands its share to the pockets that part from it, gains or loses air through an open
 * surface, and leaves what is left to its last water. Inside a node freezing is spread over the time in which the front crosses it,
 * so that the result does not hang on the size of the cells. What happens at the front itself: front_gas.h; to a pocket:
 * clouding_water.h. */
#ifndef LASTWATER_CLOUDING_H
#define LASTWATER_CLOUDING_H

#include "solver/clouding_history.h"
#include "solver/front_film.h"
#include "solver/front_gas.h"

/* At one moment a share of the liquid makes way for water as it was poured at first. */
typedef struct { double time, share; } clouding_exchange; /* s, 0 to 1 */
/* From a moment on: does its stirrer run, is air blown through it? */
typedef struct { double time; bool stirred, aerated; } clouding_drive;

typedef struct {
  const clouding_history *history;
  schedule bulk_temperature;    /* degC of the liquid; num 0: 0 degC                                           */
  double air;                   /* m3 STP per kg of water as poured                                            */
  double minerals;              /* kg per m3 of water as poured                                                */
  const clouding_exchange *exchanges; /* [num_exchanges] by rising time: in every pocket that holds liquid then; bubbles stay */
  size_t num_exchanges;
  front_film_setting film;      /* with all that drives the water                                              */
  schedule thickness;           /* m of the film, given outright; num 0: as the film's setting says            */
  const clouding_drive *drives; /* [num_drives] by rising time; before the first, and without any, all runs    */
  size_t num_drives;
  front_gas_constants gas;
  double detached;              /* multiplies the share of new bubbles that leave the front: 1; 0: none        */
  size_t num_slices;            /* of equal mass: at least 200; pockets that part add more                      */
} clouding_request;

/* Where a quantity went, in its own unit; initial = sum of the rest, to rounding. */
typedef struct {
  double initial;
  double in_ice;      /* minerals: taken up or shut in; air: in bubbles, frozen in     */
  double through_top; /* air lost through an open surface, net (below 0: gained), free bubbles included */
  double exchanged;   /* gone with water that was exchanged, less what the fresh water brought */
  double in_void;     /* left with the last water of each pocket, free bubbles included */
  double in_liquid;   /* in water that is still liquid                                 */
} clouding_books;
double clouding_books_error(const clouding_books *b); /* relative to what was there */

/* How fast the ice grew while one tenth of the water after the other froze: means over that tenth, by mass. Only with maps. */
typedef struct {
  double speed; /* m/s of ice; NAN: that tenth did not freeze   */
  double limit; /* m/s up to which it would have stayed clear, at most 1e-4 */
} clouding_growth;

typedef struct {
  double clear, hazy, white;       /* shares of the ice: extinction below 1, 1 to 30, above 30 per m           */
  double onset_time, onset_share;  /* s from time zero, frozen share: bubbles on 5 % of the front, from there on for 0.5 % of the ice; NAN: none */
  double hazy_share;               /* frozen share from which to the end the ice that grows is mostly not clear; NAN */
  double white_share;              /* frozen share, after that, from which it is first mostly white; NAN        */
  double stop_time, stop_share;    /* s: from here to the end, but for 5 % of the ice, the front stands at 0.8 of the onset or above; where it did so from the start, the ice that grows is mostly not clear; NAN: never, or that from the start too */
  double salt_time, salt_share;    /* the same for a front beyond the salt limit                               */
  double renew_time, renew_share;  /* when fresh water would first help: air at 0.8 of the onset, or minerals at 0.8 of the salt limit, to the end; NAN */
  clouding_growth growth[CLEAR_TENTHS];
  clouding_books air;              /* m3 STP */
  clouding_books salt;             /* kg     */
  size_t num_visits;               /* cost: nodes, or parts of them, looked at in a slice, all slices together */
} clouding_found;

/* What a pass leaves at every node: [num_nodes of the mesh] each, NULL: not wanted; written for the frozen nodes of the body. */
typedef struct {
  double *gas_fraction; /* m3 of bubbles per m3                                                 */
  double *extinction;   /* 1/m                                                                  */
  double *mineral;      /* kg per m3 of ice                                                     */
  double *limit;        /* m/s: growth up to which the ice would have stayed clear there, then; at most 1e-4 */
} clouding_maps;

/* STATUS_NO_MEMORY, else STATUS_OK; nothing is kept. */
status clouding_find(clouding_found *found, const clouding_maps *maps, const clouding_request *request, message *msg);

#define CLOUDING_CLEAR 1.0  /* 1/m */
#define CLOUDING_WHITE 30.0 /* 1/m: no view through 100 mm */

#endif
