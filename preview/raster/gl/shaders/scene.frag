// glTF 2.0 metallic-roughness shading in linear light. Every material switch is a define.
in vec3 stage_position;
in vec3 stage_normal;
in vec2 part_uv0;
in vec2 part_uv1;
in vec4 part_color;

uniform vec3 eye;
uniform vec4 base_color;
uniform float metallic;
uniform float roughness;
uniform vec3 emissive;
uniform float alpha_cutoff;

#ifdef BASE_TEXTURE
uniform sampler2D base_texture;
uniform mat3 base_uv;
#endif
#ifdef METAL_TEXTURE
uniform sampler2D metal_texture;
uniform mat3 metal_uv;
#endif
#ifdef NORMAL_TEXTURE
uniform sampler2D normal_texture;
uniform mat3 normal_uv;
uniform float normal_scale;
#endif
#ifdef OCCLUSION_TEXTURE
uniform sampler2D occlusion_texture;
uniform mat3 occlusion_uv;
uniform float occlusion_strength;
#endif
#ifdef EMISSIVE_TEXTURE
uniform sampler2D emissive_texture;
uniform mat3 emissive_uv;
#endif

// Lights come sorted: SUNS directional, then POINTS, then SPOTS.
#if SUNS + POINTS + SPOTS > 0
uniform vec3 light_position[SUNS + POINTS + SPOTS];
uniform vec4 light_color[SUNS + POINTS + SPOTS];      // rgb times intensity, w: 1 / range^2 (0 endless)
uniform vec3 light_direction[SUNS + POINTS + SPOTS];  // the way the light travels
uniform vec2 light_cone[SUNS + POINTS + SPOTS];       // cosines of the inner and outer half angle
#endif
#ifdef SHADOW
uniform sampler2D shadow_moments;
uniform mat4 shadow_from_stage;
uniform float shadow_exponent;
#endif
uniform vec3 irradiance[9];  // spherical harmonics of the sky's light, divided by pi

layout(location = 0) out vec4 radiance;

const float PI = 3.14159265359;

// Without metal the specular colour is grey: one number does.
#ifdef DIELECTRIC
#define TINT float
#else
#define TINT vec3
#endif

#ifdef NORMAL_TEXTURE
vec3 mapped_normal(vec3 normal, vec2 uv) {
    // Cotangent frame from screen derivatives: needs no stored tangents.
    vec3 along_x = dFdx(stage_position), along_y = dFdy(stage_position);
    vec2 uv_x = dFdx(uv), uv_y = dFdy(uv);
    vec3 across_x = cross(along_y, normal), across_y = cross(normal, along_x);
    vec3 tangent = across_x * uv_x.x + across_y * uv_y.x;
    vec3 bitangent = across_x * uv_x.y + across_y * uv_y.y;
    float size = max(dot(tangent, tangent), dot(bitangent, bitangent));
    if (!(size > 0.0)) return normal;
    float scale = inversesqrt(size) * sign(dot(cross(along_x, along_y), normal));
    vec3 texel = texture(normal_texture, uv).xyz * 2.0 - 1.0;
    // Texture v runs down; glTF's +Y of the normal points up.
    return normalize(tangent * (texel.x * normal_scale * scale)
                     - bitangent * (texel.y * normal_scale * scale) + normal * texel.z);
}
#endif

vec3 sky_light(vec3 n) {
    return max(irradiance[0] + irradiance[1] * n.y + irradiance[2] * n.z + irradiance[3] * n.x
               + irradiance[4] * (n.x * n.y) + irradiance[5] * (n.y * n.z)
               + irradiance[6] * (3.0 * n.z * n.z - 1.0) + irradiance[7] * (n.x * n.z)
               + irradiance[8] * (n.x * n.x - n.y * n.y), vec3(0.0));
}

#ifdef SHADOW
float lit_share(vec3 position, vec3 normal) {
    vec3 at = (shadow_from_stage * vec4(position + normal * 0.02, 1.0)).xyz * 0.5 + 0.5;
    if (any(lessThan(at, vec3(0.0))) || any(greaterThan(at, vec3(1.0)))) return 1.0;
    vec2 moments = texture(shadow_moments, at.xy).rg;
    float warped = exp(shadow_exponent * (at.z - 1.0));
    float variance = max(moments.y - moments.x * moments.x, 1e-5 * warped * warped);
    float gap = warped - moments.x;
    float share = gap <= 0.0 ? 1.0 : variance / (variance + gap * gap);
    return clamp((share - 0.25) / 0.75, 0.0, 1.0);  // the low tail is light leaking through
}
#endif

#ifndef UNLIT
struct Reflector {
    vec3 normal, to_eye, diffuse;
    TINT specular;
    float facing, a2, k;
};

// Radiance sent to the eye for unit light from one direction, cosine included.
// GGX with the Schlick-Smith mask and Fresnel terms; source: glTF 2.0 specification, appendix B.
vec3 reflected(Reflector r, vec3 to_light) {
    float nl = dot(r.normal, to_light);
    vec3 half_way = normalize(to_light + r.to_eye);
    float nh = dot(r.normal, half_way), miss = 1.0 - max(dot(r.to_eye, half_way), 0.0);
    float miss2 = miss * miss;
    TINT fresnel = r.specular + (1.0 - r.specular) * (miss2 * miss2 * miss);
    float d = nh * nh * (r.a2 - 1.0) + 1.0;
    float lit = max(nl, 0.0);
    float mask = (lit * (1.0 - r.k) + r.k) * (r.facing * (1.0 - r.k) + r.k);
    float mirror = min(r.a2 / (4.0 * PI * d * d * mask), 64.0);
    return (r.diffuse * (1.0 - fresnel) * (1.0 / PI) + fresnel * mirror) * lit;
}

#if POINTS + SPOTS > 0
// Direction to a light at a place, and how much of its intensity arrives (KHR_lights_punctual: inverse
// square, windowed by range).
vec4 local_light(int i) {
    vec3 way = light_position[i] - stage_position;
    float d2 = max(dot(way, way), 1e-4), part = d2 * light_color[i].w;
    return vec4(way * inversesqrt(d2), clamp(1.0 - part * part, 0.0, 1.0) / d2);
}
#endif
#endif

void main() {
#ifdef COLORS
    vec4 albedo = base_color * part_color;
#else
    vec4 albedo = base_color;
#endif
#ifdef BASE_TEXTURE
    albedo *= texture(base_texture, (base_uv * vec3(BASE_SET, 1.0)).xy);
#endif
    float alpha = 1.0;
#ifdef MASK
    // Alpha to coverage: one pixel of ramp around the cut-off keeps cut-out edges smooth.
    alpha = clamp((albedo.a - alpha_cutoff) / max(fwidth(albedo.a), 1e-4) + 0.5, 0.0, 1.0);
    if (alpha <= 0.0) discard;
#endif
#ifdef BLEND
    alpha = albedo.a;
#endif
    vec3 glow = emissive;
#ifdef EMISSIVE_TEXTURE
    glow *= texture(emissive_texture, (emissive_uv * vec3(EMISSIVE_SET, 1.0)).xy).rgb;
#endif

#ifdef UNLIT
    vec3 light = albedo.rgb + glow;
#else
    vec3 normal = normalize(gl_FrontFacing ? stage_normal : -stage_normal);
    vec3 smooth_normal = normal;
#ifdef NORMAL_TEXTURE
    normal = mapped_normal(normal, (normal_uv * vec3(NORMAL_SET, 1.0)).xy);
#endif
    float metal = metallic, rough = roughness;
#ifdef METAL_TEXTURE
    vec2 orm = texture(metal_texture, (metal_uv * vec3(METAL_SET, 1.0)).xy).gb;
    rough *= orm.x;
    metal *= orm.y;
#endif
    rough = clamp(rough, 0.045, 1.0);
    float occlusion = 1.0;
#ifdef OCCLUSION_TEXTURE
    occlusion = mix(1.0, texture(occlusion_texture, (occlusion_uv * vec3(OCCLUSION_SET, 1.0)).xy).r,
                    occlusion_strength);
#endif
    vec3 to_eye = normalize(eye - stage_position);
    float facing = max(dot(normal, to_eye), 1e-3);
#ifdef DIELECTRIC
    vec3 diffuse = albedo.rgb;
    const float specular = 0.04;
#else
    vec3 diffuse = albedo.rgb * (1.0 - metal);
    vec3 specular = mix(vec3(0.04), albedo.rgb, metal);
#endif
    float a2 = rough * rough * rough * rough;

    // Ambient: sky irradiance, and its mirror image through a fitted environment BRDF
    // (Karis 2014, "Physically Based Shading on Mobile", after Lazarov 2013).
    vec4 r = rough * vec4(-1.0, -0.0275, -0.572, 0.022) + vec4(1.0, 0.0425, 1.04, -0.04);
    float a004 = min(r.x * r.x, exp2(-9.28 * facing)) * r.x + r.y;
    vec2 brdf = vec2(-1.04, 1.04) * a004 + r.zw;
    vec3 ambient = sky_light(normal);
#ifdef MATT
    vec3 mirrored = ambient;  // a matt surface mirrors nearly the whole half space it faces
#else
    vec3 mirrored = sky_light(reflect(-to_eye, normal));
#endif
    vec3 light = occlusion * (diffuse * ambient + (specular * brdf.x + brdf.y) * mirrored);
    Reflector r0 = Reflector(normal, to_eye, diffuse, specular, facing, rough * rough * rough * rough,
                             rough * rough * 0.5);
#if SUNS > 0
    for (int i = 0; i < SUNS; ++i) {
        vec3 sent = reflected(r0, -light_direction[i]) * light_color[i].rgb;
#ifdef SHADOW
        if (i == SHADOW) sent *= lit_share(stage_position, smooth_normal);
#endif
        light += sent;
    }
#endif
#if POINTS > 0
    for (int i = SUNS; i < SUNS + POINTS; ++i) {
        vec4 arriving = local_light(i);
        light += reflected(r0, arriving.xyz) * (light_color[i].rgb * arriving.w);
    }
#endif
#if SPOTS > 0
    for (int i = SUNS + POINTS; i < SUNS + POINTS + SPOTS; ++i) {
        vec4 arriving = local_light(i);
        float c = -dot(arriving.xyz, light_direction[i]);
        float inside = clamp((c - light_cone[i].y) / max(light_cone[i].x - light_cone[i].y, 1e-4), 0.0, 1.0);
        light += reflected(r0, arriving.xyz) * (light_color[i].rgb * (arriving.w * inside * inside));
    }
#endif
    light += glow;
#endif
#ifdef BLEND
    radiance = vec4(min(light, vec3(6.0e4)) * alpha, alpha);
#else
    radiance = vec4(min(light, vec3(6.0e4)), alpha);
#endif
}
