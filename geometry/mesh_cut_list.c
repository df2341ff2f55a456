/* What cutting cells makes, growing as it goes. */
#include "geometry/mesh_cut_parts.h"

#include <stdlib.h>
#include <string.h>

bool mesh_cut_list_room(void **array, size_t *room, size_t wanted, size_t size)
{
  if (wanted <= *room) return true;
  const size_t more = wanted > 2 * *room ? wanted : 2 * *room;
  void *grown = realloc(*array, more * size);
  if (!grown) return false;
  *array = grown;
  *room = more;
  return true;
}

mesh_cut_facet *mesh_cut_list_facet(mesh_cut_list *l)
{
  if (!mesh_cut_list_room((void **)&l->facets, &l->room_facets, l->num_facets + 1, sizeof *l->facets)) {
    l->no_memory = true;
    return NULL;
  }
  mesh_cut_facet *f = &l->facets[l->num_facets++];
  memset(f, 0, sizeof *f);
  return f;
}

void mesh_cut_list_append(mesh_cut_list *to, const mesh_cut_list *from)
{
  to->no_memory = to->no_memory || from->no_memory ||
                  !mesh_cut_list_room((void **)&to->pieces, &to->room_pieces, to->num_pieces + from->num_pieces, sizeof *to->pieces) ||
                  !mesh_cut_list_room((void **)&to->facets, &to->room_facets, to->num_facets + from->num_facets, sizeof *to->facets) ||
                  !mesh_cut_list_room((void **)&to->traces, &to->room_traces, to->num_traces + from->num_traces, sizeof *to->traces);
  if (to->no_memory) return;
  if (from->num_pieces) memcpy(to->pieces + to->num_pieces, from->pieces, from->num_pieces * sizeof *to->pieces);
  if (from->num_facets) memcpy(to->facets + to->num_facets, from->facets, from->num_facets * sizeof *to->facets);
  if (from->num_traces) memcpy(to->traces + to->num_traces, from->traces, from->num_traces * sizeof *to->traces);
  to->num_pieces += from->num_pieces;
  to->num_facets += from->num_facets;
  to->num_traces += from->num_traces;
  to->num_lost += from->num_lost;
  to->dropped_area += from->dropped_area;
}

void mesh_cut_list_free(mesh_cut_list *list)
{
  free(list->pieces);
  free(list->facets);
  free(list->traces);
  *list = (mesh_cut_list){0};
}
