/* `lastwater brine`: what is in a tub of brine, when it starts to freeze, how much ice at which temperature, what to add. */
#ifndef LASTWATER_BRINE_COMMAND_H
#define LASTWATER_BRINE_COMMAND_H

#include "io/options.h"

status brine_command(const options *o, message *msg);

#endif
