/**
 * How surfaces, ink and thread are coloured: three small shader programs.
 *
 * How: pieces are drawn into two pictures at once, one of cloth in soft light and one of facts (the
 * way the surface faces, and whose it is), with their depth. Ink is then laid where the facts jump:
 * at outlines, between pieces, at creases. Thread is drawn last, and shows faintly where a surface
 * is before it.
 * Colours are what the style sheet says, mixed as they stand (no colour management).
 */
import { Color, GLSL3, NoBlending, ShaderMaterial, Vector2, type Texture } from "three";

/** Sets uniforms by name; a colour is given as the style sheet writes it, a size as width and height. */
export function give(material: ShaderMaterial, values: Record<string, unknown>): void {
  for (const [name, value] of Object.entries(values)) {
    const uniform = material.uniforms[name];
    if (uniform === undefined) throw new Error(`no uniform ${name}`);
    if (uniform.value instanceof Color) uniform.value.set(value as string);
    else if (uniform.value instanceof Vector2) uniform.value.set(...(value as [number, number]));
    else uniform.value = value;
  }
}

/** Touches of chalk that are drawn on an item: far more than areas need. */
export const MOST_DABS = 1024;

export const cloth = (): ShaderMaterial =>
  new ShaderMaterial({
    glslVersion: GLSL3,
    blending: NoBlending,
    uniforms: {
      tone: { value: new Color() },
      ink: { value: new Color() },
      number: { value: 0 },
      marked: { value: 0 },
      dark: { value: 0 },
      hatch_px: { value: 6 },
      chalk: { value: null as Texture | null },
      n_dabs: { value: 0 },
      offset: { value: [0, 0, 0] },
    },
    vertexShader: /* glsl */ `
      in float skin;
      out vec3 facing;
      out float is_skin;
      out vec3 at_mm;
      uniform vec3 offset;
      void main() {
        facing = normalMatrix * normal;
        is_skin = skin;
        at_mm = position;
        gl_Position = projectionMatrix * modelViewMatrix * vec4(position + offset, 1.0);
      }`,
    fragmentShader: /* glsl */ `
      layout(location = 0) out vec4 colour;
      layout(location = 1) out vec4 facts;
      in vec3 facing;
      in float is_skin;
      in vec3 at_mm;
      uniform highp sampler2D chalk;
      uniform int n_dabs;
      uniform vec3 tone;
      uniform vec3 ink;
      uniform float number;
      uniform float marked;
      uniform float dark;
      uniform float hatch_px;
      void main() {
        vec3 n = normalize(facing);
        if (n.z < 0.0) n = -n;
        // Light from the upper left and a little before the sheet, as drawings have it.
        float light = dot(n, normalize(vec3(-0.48, 0.62, 0.62))) * 0.5 + 0.5;
        float soft = smoothstep(0.12, 1.0, light);
        float edge = pow(1.0 - n.z, 3.0);
        // Shadow leans to brown on paper, to deep blue on blueprint.
        vec3 shade = tone * mix(vec3(0.60, 0.555, 0.49), vec3(0.56, 0.60, 0.72), dark);
        vec3 lit = mix(tone * 1.035, tone * 1.12 + 0.018, dark);
        vec3 c = mix(shade, lit, soft) * (1.0 - 0.10 * edge);
        if (is_skin < 0.5) c *= mix(0.83, 0.78, dark);
        // Chalked off is crossed, chalked in is hatched one way, pale; the later touch counts.
        float said = 0.0;
        for (int i = 0; i < ${MOST_DABS}; i++) {
          if (i >= n_dabs) break;
          vec4 dab = texelFetch(chalk, ivec2(i, 0), 0);
          if (distance(at_mm, dab.xyz) <= abs(dab.w)) said = sign(dab.w);
        }
        if (said != 0.0) {
          float down = abs(mod(gl_FragCoord.x - gl_FragCoord.y, hatch_px) / hatch_px - 0.5);
          float up = abs(mod(gl_FragCoord.x + gl_FragCoord.y, hatch_px) / hatch_px - 0.5);
          float line = 1.0 - smoothstep(0.08, 0.2, said > 0.0 ? min(down, up) : down);
          c = mix(c, said > 0.0 ? ink : vec3(1.0), (said > 0.0 ? 0.5 : 0.85) * line);
        }
        if (marked > 0.5) {
          float along = mod(gl_FragCoord.x + gl_FragCoord.y, hatch_px) / hatch_px;
          float line = 1.0 - smoothstep(0.06, 0.18, abs(along - 0.5));
          c = mix(c, ink, 0.55 * line);
        }
        colour = vec4(min(c, 1.0), 1.0);
        facts = vec4(n.xy * 0.5 + 0.5, floor(number / 256.0) / 255.0, mod(number, 256.0) / 255.0);
      }`,
  });

export const inked = (): ShaderMaterial =>
  new ShaderMaterial({
    glslVersion: GLSL3,
    blending: NoBlending,
    depthTest: false,
    depthWrite: false,
    uniforms: {
      colours: { value: null as Texture | null },
      facts: { value: null as Texture | null },
      depths: { value: null as Texture | null },
      /** Size of the pictures, and how many of their pixels a side go into one here. */
      size: { value: new Vector2(1, 1) },
      fine: { value: 1 },
      /** Half the width of a line in pixels of the pictures. */
      reach: { value: 1 },
      /** Depth range over what a pixel covers: how steep a surface looks. */
      steep: { value: 1 },
      ink: { value: new Color() },
    },
    vertexShader: /* glsl */ `void main() { gl_Position = vec4(position.xy, 0.0, 1.0); }`,
    fragmentShader: /* glsl */ `
      precision highp float;
      layout(location = 0) out vec4 colour;
      uniform sampler2D colours;
      uniform sampler2D facts;
      uniform sampler2D depths;
      uniform vec2 size;
      uniform int fine;
      uniform float reach;
      uniform float steep;
      uniform vec3 ink;

      vec3 facing(vec4 fact) {
        vec2 xy = fact.xy * 2.0 - 1.0;
        return vec3(xy, sqrt(max(0.0, 1.0 - dot(xy, xy))));
      }
      float owner(vec4 fact) { return floor(fact.z * 255.0 + 0.5) * 256.0 + floor(fact.w * 255.0 + 0.5); }

      float lineBetween(vec2 at, vec2 by) {
        vec4 fa = texture(facts, at - by);
        vec4 fb = texture(facts, at + by);
        float a = owner(fa);
        float b = owner(fb);
        if (a != b && (a == 0.0 || b == 0.0)) return 0.95;
        if (a == 0.0) return 0.0;
        float da = texture(depths, at - by).r;
        float db = texture(depths, at + by).r;
        float dm = texture(depths, at).r;
        // A jump is a bend in depth that no smooth surface makes within two pixels.
        float jump = abs(da + db - 2.0 * dm) * steep;
        float bend = 1.0 - dot(facing(fa), facing(fb));
        float edge = max(0.85 * smoothstep(3.5, 9.0, jump), 0.60 * smoothstep(0.16, 0.5, bend));
        // Where two pieces lie together the thread is the line.
        return a == b ? edge : max(0.22, 0.85 * smoothstep(3.5, 9.0, jump));
      }

      void main() {
        vec2 px = 1.0 / size;
        vec2 corner = floor(gl_FragCoord.xy) * float(fine);
        vec4 sum = vec4(0.0);
        for (int i = 0; i < 3; i++) {
          if (i >= fine) break;
          for (int j = 0; j < 3; j++) {
            if (j >= fine) break;
            vec2 at = (corner + vec2(i, j) + 0.5) * px;
            vec4 c = texture(colours, at);
            float line = max(lineBetween(at, vec2(reach, 0.0) * px), lineBetween(at, vec2(0.0, reach) * px));
            vec4 over = vec4(mix(c.rgb, ink, line), max(c.a, line));
            sum += vec4(over.rgb * over.a, over.a);
          }
        }
        colour = sum / float(fine * fine);
      }`,
  });

export const thread = (): ShaderMaterial =>
  new ShaderMaterial({
    glslVersion: GLSL3,
    transparent: true,
    premultipliedAlpha: true,
    depthTest: false,
    depthWrite: false,
    uniforms: {
      ink: { value: new Color() },
      depths: { value: null as Texture | null },
      half_view: { value: new Vector2(1, 1) },
      slack: { value: 0 },
      ratio: { value: 1 },
      offset: { value: [0, 0, 0] },
    },
    vertexShader: /* glsl */ `
      in vec3 from;
      in vec3 to;
      in float width;
      out vec2 across;
      out float half_px;
      uniform vec2 half_view;
      uniform float ratio;
      uniform vec3 offset;
      void main() {
        vec4 a = projectionMatrix * modelViewMatrix * vec4(from + offset, 1.0);
        vec4 b = projectionMatrix * modelViewMatrix * vec4(to + offset, 1.0);
        vec2 pa = a.xy * half_view;
        vec2 pb = b.xy * half_view;
        vec2 along = pb - pa;
        float long_px = length(along);
        along = long_px < 1e-4 ? vec2(1.0, 0.0) : along / long_px;
        half_px = 0.5 * width * ratio;
        float out_px = half_px + 1.0;
        // position.x runs from end to end, position.y from side to side.
        vec2 p = mix(pa - along * half_px * 0.3, pb + along * half_px * 0.3, position.x) + vec2(-along.y, along.x) * position.y * out_px;
        across = vec2(0.0, position.y * out_px);
        gl_Position = vec4(p / half_view, mix(a.z, b.z, position.x), 1.0);
      }`,
    fragmentShader: /* glsl */ `
      precision highp float;
      layout(location = 0) out vec4 colour;
      in vec2 across;
      in float half_px;
      uniform sampler2D depths;
      uniform vec2 half_view;
      uniform vec3 ink;
      uniform float slack;
      void main() {
        float surface = texture(depths, gl_FragCoord.xy / (2.0 * half_view)).r;
        bool is_behind = gl_FragCoord.z > surface + slack;
        float reach = is_behind ? half_px * 0.5 : half_px;
        float alpha = 1.0 - smoothstep(reach - 0.5, reach + 0.5, abs(across.y));
        alpha *= is_behind ? 0.30 : 1.0;
        if (alpha <= 0.0) discard;
        colour = vec4(ink * alpha, alpha);
      }`,
  });
