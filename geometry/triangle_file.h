/* Triangles out of the bytes of a file: STL, binary and text, and OBJ. Input is hostile until it has passed here.
 *
 * Refused with file:line (text) or the number of the triangle (binary), what was found and what to do: files cut short, a count that
 * the size belies, numbers that are not finite or beyond 1e30, decimal commas, words that belong to no such file, corners that name no
 * point, files without triangles, more than TRIANGLE_FILE_MOST triangles. Nothing is welded or mended here, and the normals that a file
 * gives are not believed: a face looks to where its corners run counter-clockwise. Units are the file's own.
 *
 * Memory: a triangle out of an STL takes 84 bytes here, out of an OBJ some 24 (a corner shared by six counts once). */
#ifndef LASTWATER_TRIANGLE_FILE_H
#define LASTWATER_TRIANGLE_FILE_H

#include <stddef.h>
#include <stdint.h>

#include "io/status.h"

enum { TRIANGLE_FILE_MOST = 10000000 }; /* triangles; 840 MB here, see triangle_surface.h for what follows */

typedef struct {
  size_t num_points;
  double (*points)[3];     /* [num_points] owned, finite; a point may be given many times             */
  size_t num_triangles;    /* > 0                                                                    */
  uint32_t (*corners)[3];  /* [num_triangles] owned; each < num_points                               */
  size_t room_points, room_triangles;
} triangle_file;

/* By the ending of name, .stl or .obj in any case; name is used in messages. bytes need no end mark. STATUS_BAD_INPUT or
 * STATUS_NO_MEMORY: *out is empty and owns nothing. */
status triangle_file_read(triangle_file *out, const char *name, const char *bytes, size_t num_bytes, message *msg);
status triangle_file_read_stl(triangle_file *out, const char *name, const char *bytes, size_t num_bytes, message *msg);
/* Points (v) and faces (f: i, i/j, i//k, i/j/k, also counted back from the last point by negative numbers); a polygon is cut
 * into triangles (triangle_polygon.h) and refused when that could be done in more ways than one. Texture, normals, names, groups,
 * materials, lines and points are passed over; free-form surfaces are refused. */
status triangle_file_read_obj(triangle_file *out, const char *name, const char *bytes, size_t num_bytes, message *msg);
void triangle_file_release(triangle_file *f);

#endif
