/* The ledger of many runs: which are done, which failed, which are still to do; exact after any kill.
 *
 * A directory of journals, one for every writer, so that tasks on several machines never write to the same file. A journal is only ever
 * added to: one line a finished run, with a checksum, brought to the disk before anybody is told. A line that a kill cut short has no sound
 * checksum: it does not count, and its writer cuts it off before it goes on. A run is known by a number made from what it was asked (a hash),
 * and a later line about the same run changes nothing: the first counts.
 *
 *   lastwater ledger 1 IDENTITY
 *   CHECK KEY done WALL PAYLOAD
 *   CHECK KEY failed WALL REASON                 (CHECK, KEY, IDENTITY: 16 hexadecimal digits; WALL: s) */
#ifndef LASTWATER_LEDGER_H
#define LASTWATER_LEDGER_H

#include <stddef.h>
#include <stdint.h>

#include "io/status.h"

typedef enum { LEDGER_TO_DO, LEDGER_DONE, LEDGER_FAILED } ledger_state;

typedef struct ledger ledger;

/* directory: made when it is missing (its parent must be there). identity: whose ledger it is; STATUS_BAD_INPUT when what is there is another's.
 * journal: the name of this writer's own file, letters, digits and '-'. NULL: only to read. */
status ledger_open(ledger **out, const char *directory, uint64_t identity, const char *journal, message *msg);
void ledger_close(ledger **l); /* NULL-safe */

ledger_state ledger_state_of(const ledger *l, uint64_t key);
const char *ledger_payload(const ledger *l, uint64_t key); /* or the reason; NULL when to do; until the next write */
size_t ledger_num(const ledger *l, ledger_state state);    /* of LEDGER_DONE or LEDGER_FAILED */
size_t ledger_num_twice(const ledger *l);                  /* lines about a run that was in the ledger already */
double ledger_wall(const ledger *l);                       /* s, of all that is in it */

/* text: without line ends. On the disk when this returns STATUS_OK. */
status ledger_write(ledger *l, uint64_t key, ledger_state state, double wall, const char *text, message *msg);

#endif
