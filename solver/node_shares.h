/* Nodes that share something, each with its weight. */
#ifndef LASTWATER_NODE_SHARES_H
#define LASTWATER_NODE_SHARES_H

#include <stddef.h>
#include <stdint.h>

/* Adds to what `to` has; a node that is new comes last. node and weight have room for one more than *num. */
static inline void node_shares_add(int32_t *node, double *weight, size_t *num, int32_t to, double share)
{
  size_t at = 0;
  while (at < *num && node[at] != to) {
    at++;
  }
  if (at == *num) {
    node[at] = to;
    weight[at] = 0.0;
    ++*num;
  }
  weight[at] += share;
}

#endif
