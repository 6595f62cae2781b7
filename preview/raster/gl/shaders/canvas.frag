// One LED surface unrolled: wall light at every canvas pixel, for each stack.
#include "wall.glsl"
#include "display.glsl"
in vec3 stage_position;
flat in int facet;
uniform samplerBuffer facets;

//@LAYERS@

void main() {
    Point p;
    p.at = stage_position;
    p.dx = p.at + dFdx(stage_position);
    p.dy = p.at + dFdy(stage_position);
    p.normal = texelFetch(facets, 4 * (facet - 1)).xyz;
    p.headroom = texelFetch(facets, 4 * (facet - 1) + 3).x;
    const float open = 1.0, off_wall = 0.0;
    const vec4 front = vec4(0.0);
    const vec3 marker = vec3(0.0);
    //@CLEAR@
    //@ADD@
    //@WRITE@
}
