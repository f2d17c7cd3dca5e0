// Fills triangles by a value at every node: with WebGL on a canvas that is never shown and is then
// drawn into the view (a canvas of its own on the page loses rows where others cover it), else flat.

import { COLOURS } from "./colours.js";

const TABLES = {};
function table(paper, what) {
  const key = `${paper} ${what}`;
  TABLES[key] ??= COLOURS[paper][what]
    .split(" ")
    .map((hex) => [0, 2, 4].map((k) => parseInt(hex.slice(k, k + 2), 16)));
  return TABLES[key];
}

export function gradient(paper, what) {
  return `linear-gradient(90deg, ${table(paper, what)
    .map((c) => `rgb(${c.join(" ")})`)
    .join(",")})`;
}

const VERTEX = `attribute vec2 place; attribute float value; uniform vec4 fit; varying float share;
void main() { share = value; gl_Position = vec4(place * fit.xy + fit.zw, 0.0, 1.0); }`;
const FRAGMENT = `precision mediump float; varying float share; uniform sampler2D colours;
void main() { gl_FragColor = texture2D(colours, vec2(clamp(share, 0.0, 1.0) * 0.96875 + 0.015625, 0.5)); }`;

class Gpu {
  constructor() {
    this.canvas = document.createElement("canvas");
    const gl = this.canvas.getContext("webgl", { antialias: true, preserveDrawingBuffer: true });
    if (!gl) throw new Error("no WebGL");
    this.gl = gl;
    const program = gl.createProgram();
    for (const [kind, source] of [
      [gl.VERTEX_SHADER, VERTEX],
      [gl.FRAGMENT_SHADER, FRAGMENT],
    ]) {
      const shader = gl.createShader(kind);
      gl.shaderSource(shader, source);
      gl.compileShader(shader);
      gl.attachShader(program, shader);
    }
    gl.linkProgram(program);
    if (!gl.getProgramParameter(program, gl.LINK_STATUS)) throw new Error("no shader");
    gl.useProgram(program);
    this.fit = gl.getUniformLocation(program, "fit");
    this.buffers = {};
    for (const [name, size] of [["place", 2], ["value", 1]]) {
      const buffer = (this.buffers[name] = gl.createBuffer());
      const where = gl.getAttribLocation(program, name);
      gl.bindBuffer(gl.ARRAY_BUFFER, buffer);
      gl.enableVertexAttribArray(where);
      gl.vertexAttribPointer(where, size, gl.FLOAT, false, 0, 0);
    }
    this.corners = gl.createBuffer();
    gl.bindBuffer(gl.ELEMENT_ARRAY_BUFFER, this.corners);
    this.texture = gl.createTexture();
    gl.bindTexture(gl.TEXTURE_2D, this.texture);
    for (const side of [gl.TEXTURE_WRAP_S, gl.TEXTURE_WRAP_T])
      gl.texParameteri(gl.TEXTURE_2D, side, gl.CLAMP_TO_EDGE);
    for (const size of [gl.TEXTURE_MIN_FILTER, gl.TEXTURE_MAG_FILTER])
      gl.texParameteri(gl.TEXTURE_2D, size, gl.LINEAR);
  }

  fill(context, triangles, places, values, colours) {
    const { width, height } = context.canvas;
    const gl = this.gl;
    if (this.canvas.width !== width || this.canvas.height !== height) Object.assign(this.canvas, { width, height });
    gl.viewport(0, 0, width, height);
    gl.clearColor(0, 0, 0, 0);
    gl.clear(gl.COLOR_BUFFER_BIT);
    const texels = new Uint8Array(32 * 4);
    for (let k = 0; k < 32; k++) {
      const at = (k / 31) * (colours.length - 1);
      const a = colours[Math.floor(at)];
      const b = colours[Math.ceil(at)];
      for (let c = 0; c < 3; c++) texels[4 * k + c] = a[c] + (at % 1) * (b[c] - a[c]);
      texels[4 * k + 3] = 255;
    }
    gl.texImage2D(gl.TEXTURE_2D, 0, gl.RGBA, 32, 1, 0, gl.RGBA, gl.UNSIGNED_BYTE, texels);
    gl.bindBuffer(gl.ARRAY_BUFFER, this.buffers.place);
    gl.bufferData(gl.ARRAY_BUFFER, places, gl.STREAM_DRAW);
    gl.bindBuffer(gl.ARRAY_BUFFER, this.buffers.value);
    gl.bufferData(gl.ARRAY_BUFFER, values, gl.STREAM_DRAW);
    gl.bufferData(gl.ELEMENT_ARRAY_BUFFER, triangles, gl.STREAM_DRAW);
    gl.uniform4f(this.fit, 2 / width, -2 / height, -1, 1);
    gl.drawElements(gl.TRIANGLES, triangles.length, gl.UNSIGNED_SHORT, 0);
    context.save();
    context.setTransform(1, 0, 0, 1, 0, 0);
    context.drawImage(this.canvas, 0, 0);
    context.restore();
  }
}

const FLAT = {
  fill(context, triangles, places, values, colours) {
    const shades = Array.from(colours, () => new Path2D());
    for (let t = 0; t < triangles.length; t += 3) {
      const [a, b, c] = [triangles[t], triangles[t + 1], triangles[t + 2]];
      const mean = (values[a] + values[b] + values[c]) / 3;
      const shade = Math.round(Math.min(1, Math.max(0, mean)) * (colours.length - 1));
      const path = shades[shade];
      path.moveTo(places[2 * a], places[2 * a + 1]);
      path.lineTo(places[2 * b], places[2 * b + 1]);
      path.lineTo(places[2 * c], places[2 * c + 1]);
      path.closePath();
    }
    context.save();
    context.setTransform(1, 0, 0, 1, 0, 0);
    context.lineWidth = 0.7;
    shades.forEach((path, k) => {
      context.fillStyle = context.strokeStyle = `rgb(${colours[k].join(" ")})`;
      context.fill(path);
      context.stroke(path);
    });
    context.restore();
  },
};

let brush = null;
function chosen() {
  if (brush) return brush;
  try {
    const gpu = new Gpu();
    gpu.canvas.addEventListener("webglcontextlost", () => (brush = FLAT));
    brush = gpu;
  } catch {
    brush = FLAT; // no WebGL here
  }
  return brush;
}

// Fill triangles; places are canvas pixels (two a node), values shares of the colour scale.
export function fill(context, triangles, places, values, paper, what) {
  const by = triangles instanceof Uint16Array ? chosen() : FLAT;
  by.fill(context, triangles, places, values, table(paper, what));
}
