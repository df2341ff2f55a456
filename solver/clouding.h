/* Air and minerals of one body of water, followed along its pockets while it froze: where the ice is clear, hazy or white.
 *
 * A pass over the finished history of the front (front.h, pockets.h); it changes nothing in the heat balance. Every pocket is one
 * mixed liquid. It keeps what the ice rejects, hands its share to the pockets that part from it, gains or loses air through an open
 * surface, and leaves what is left to its last water. Inside a node freezing is spread over the time in which the front crosses it,
 * so that the result does not hang on the size of the cells. What happens at the front itself: front_gas.h. */
#ifndef LASTWATER_CLOUDING_H
#define LASTWATER_CLOUDING_H

#include "solver/adjacency.h"
#include "solver/front_film.h"
#include "solver/front_gas.h"
#include "solver/results.h"

/* At one moment a share of the liquid makes way for water as it was poured at first. */
typedef struct { double time, share; } clouding_exchange; /* s, 0 to 1 */

typedef struct {
  const mesh *m;
  const adjacency *a;
  int part;
  double density;               /* kg/m3: mass of a node = density * its mesh volume                           */
  const double *freeze_time;    /* [num_nodes] s, NAN: still liquid                                            */
  const double *front_speed;    /* [num_nodes] m/s, NAN: unknown                                               */
  const int32_t *pocket_of_node;/* [num_nodes] index into pockets                                              */
  const pocket *pockets;        /* [num_pockets] parents before children                                       */
  size_t num_pockets;
  double start_time;            /* s: the freeze began                                                         */
  bool open_top;                /* air passes through surfaces that face up to the room                        */
  double surface_level;         /* m, z of the surface: pressure grows below it                                */
  double pressure;              /* Pa absolute, at the surface                                                 */
  schedule bulk_temperature;    /* degC of the liquid; num 0: 0 degC                                           */
  double air;                   /* m3 STP per kg of water as poured                                            */
  double minerals;              /* kg per m3 of water as poured                                                */
  const clouding_exchange *exchanges; /* [num_exchanges] by rising time: in every pocket that holds liquid then; bubbles stay */
  size_t num_exchanges;
  front_film_setting film;
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

typedef struct {
  double clear, hazy, white;       /* shares of the ice: extinction below 1, 1 to 30, above 30 per m           */
  double onset_time, onset_share;  /* s from time zero, frozen share: bubbles on 5 % of the front, from there on for 0.5 % of the ice; NAN: none */
  double hazy_share;               /* frozen share from which to the end the ice that grows is mostly not clear; NAN */
  double white_share;              /* frozen share, after that, from which it is first mostly white; NAN        */
  double stop_time, stop_share;    /* s: from here to the end the front stands at 0.8 of the onset or above; NAN: never, or from the start */
  double salt_time, salt_share;    /* the same for a front beyond the salt limit                               */
  clouding_books air;              /* m3 STP */
  clouding_books salt;             /* kg     */
  size_t num_clamped;              /* nodes whose speed was unknown or beyond 1e-9 to 1e-4 m/s and set to it    */
  size_t num_parts_of_slices;      /* cost */
} clouding_found;

/* gas_fraction, extinction (1/m), mineral (kg/m3 of ice): [num_nodes], each may be NULL; written for the frozen nodes of the part.
 * STATUS_NO_MEMORY, else STATUS_OK; nothing is kept. */
status clouding_find(clouding_found *found, double *gas_fraction, double *extinction, double *mineral, const clouding_request *request,
                     message *msg);

#define CLOUDING_CLEAR 1.0  /* 1/m */
#define CLOUDING_WHITE 30.0 /* 1/m: no view through 100 mm */

#endif
