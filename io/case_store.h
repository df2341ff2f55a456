/* Owns the shapes, materials and arrays that a rig points to. */
#ifndef LASTWATER_CASE_STORE_H
#define LASTWATER_CASE_STORE_H

#include "geometry/shape.h"
#include "materials/material.h"

typedef struct case_store case_store;

status case_store_create(case_store **out, message *msg);
void case_store_destroy(case_store **store); /* NULL-safe; everything in it */

/* Takes over a shape; NULL when out of memory (the shape is then freed). */
const shape *case_store_shape(case_store *store, shape *s, message *msg);
/* Takes over what material points to and hands back its lasting copy; NULL when out of memory (it is then released). */
const material *case_store_material(case_store *store, const material *m, message *msg);
/* num zeroed records of size bytes; NULL when out of memory. At least one byte. */
void *case_store_array(case_store *store, size_t num, size_t size, message *msg);

#endif
