in vec2 part_uv0;
in vec2 part_uv1;
in float part_alpha;
#ifdef MASK
uniform float alpha_cutoff;
uniform float base_alpha;
#ifdef BASE_TEXTURE
uniform sampler2D base_texture;
uniform mat3 base_uv;
#endif
#endif
void main() {
#ifdef MASK
    float alpha = base_alpha * part_alpha;
#ifdef BASE_TEXTURE
    alpha *= texture(base_texture, (base_uv * vec3(BASE_SET, 1.0)).xy).a;
#endif
    if (alpha < alpha_cutoff) discard;
#endif
}
