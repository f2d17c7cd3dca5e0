// A packed scene: meshes, fields over the pull, and where everything is at any pull.

const KINDS = { float32: Float32Array, int16: Int16Array, uint16: Uint16Array, uint32: Uint32Array };

export class Scene {
  constructor(buffer) {
    const size = new DataView(buffer).getUint32(0, true);
    const header = JSON.parse(new TextDecoder().decode(new Uint8Array(buffer, 4, size)));
    this.header = header;
    this.arrays = {};
    for (const [name, told] of Object.entries(header.arrays)) {
      const length = told.shape.reduce((a, b) => a * b, 1);
      const values = new KINDS[told.type](buffer, 4 + size + told.offset, length);
      this.arrays[name] = { values, shape: told.shape, scale: told.scale };
    }
    this.load = this.arrays.load.values;
    this.elongation = this.arrays.elongation.values;
    this.extension = this.arrays.extension.values;
    this.#lay();
  }

  // Places along the pull axis: the load while it rises; what comes after the largest load is laid
  // out beyond it on a twentieth of its length.
  #lay() {
    const n = this.load.length;
    let top = 0;
    for (let k = 1; k < n; k++) if (this.load[k] > this.load[top]) top = k;
    this.most = this.load[top];
    this.places = new Float64Array(n);
    for (let k = 0; k < n; k++)
      this.places[k] = k <= top ? this.load[k] : this.most * (1 + (0.05 * (k - top)) / (n - 1 - top));
    for (let k = 1; k < n; k++)
      this.places[k] = Math.max(this.places[k], this.places[k - 1] + 1e-9 * this.most);
    this.end = this.places[n - 1];
  }

  // Fractional index of the joint's path at a place of the pull axis.
  indexAt(place) {
    const p = this.places;
    if (place >= p[p.length - 1]) return p.length - 1;
    let k = 1;
    while (k < p.length - 1 && p[k] < place) k++;
    return k - 1 + Math.min(1, Math.max(0, (place - p[k - 1]) / (p[k] - p[k - 1])));
  }

  at(values, index) {
    const k = Math.min(Math.floor(index), values.length - 1);
    if (k + 1 >= values.length) return values[k];
    return values[k] + (index - k) * (values[k + 1] - values[k]);
  }

  // One row of an array over the moments of a section, between two moments, scaled.
  row(name, moment) {
    const { values, shape, scale } = this.arrays[name];
    const size = values.length / shape[0];
    const k = Math.min(Math.floor(moment), shape[0] - 1);
    const share = k + 1 < shape[0] ? moment - k : 0;
    const out = new Float32Array(size);
    const a = k * size;
    const b = share > 0 ? a + size : a;
    for (let i = 0; i < size; i++)
      out[i] = scale * (values[a + i] + share * (values[b + i] - values[a + i]));
    return out;
  }

  moment(section, index) {
    return this.at(this.arrays[`${section}.moment`].values, index);
  }

  rings(section) {
    const count = this.header[section].rings;
    return Array.from({ length: count }, (_, k) => this.arrays[`${section}.ring${k}`].values);
  }
}
