// Blocks of figures: base64 -> zlib -> byte planes, highest first -> Float32Array. page_block.c writes them.
const decode = {
  possible: () => typeof DecompressionStream === 'function',

  async bytes(text) {
    const packed = atob(text);
    const raw = new Uint8Array(packed.length);
    for (let i = 0; i < packed.length; i++) raw[i] = packed.charCodeAt(i);
    const stream = new Blob([raw]).stream().pipeThrough(new DecompressionStream('deflate'));
    return new Uint8Array(await new Response(stream).arrayBuffer());
  },

  // The lowest plane may be missing; it is zero then.
  async floats(text, num) {
    const bytes = await decode.bytes(text);
    const planes = num ? Math.round(bytes.length / num) : 0;
    const bits = new Uint32Array(num);
    for (let plane = 0; plane < planes; plane++) {
      const shift = 24 - 8 * plane;
      for (let i = 0; i < num; i++) bits[i] |= bytes[plane * num + i] << shift;
    }
    return new Float32Array(bits.buffer);
  },
};
