// From the text in the page back to arrays: base64, deflate, then parts behind their lengths.
async function unpack(text) {
  const packed = Uint8Array.from(atob(text.trim()), (letter) => letter.charCodeAt(0));
  const stream = new Blob([packed]).stream().pipeThrough(new DecompressionStream("deflate"));
  const whole = new Uint8Array(await new Response(stream).arrayBuffer());
  const parts = [];
  for (let at = 0; at < whole.length; ) {
    const length = whole[at] | (whole[at + 1] << 8) | (whole[at + 2] << 16) | (whole[at + 3] << 24);
    parts.push(whole.subarray(at + 4, at + 4 + length));
    at += 4 + length;
  }
  return parts;
}

// Whole numbers of seven bits a byte, least first.
function numbers(bytes) {
  const found = new Uint32Array(bytes.length);
  let n = 0;
  let value = 0;
  let shift = 0;
  for (const byte of bytes) {
    value += (byte & 127) * 2 ** shift;
    shift += 7;
    if (byte < 128) {
      found[n++] = value;
      value = shift = 0;
    }
  }
  return found.subarray(0, n);
}

// Entries by step: where those of step t begin (and those of t + 1), their places and what they become.
function entries(counts, gaps, codes) {
  const many = numbers(counts);
  const starts = new Uint32Array(many.length + 1);
  const places = numbers(gaps);
  for (let t = 0; t < many.length; t++) {
    starts[t + 1] = starts[t] + many[t];
    for (let i = starts[t] + 1; i < starts[t + 1]; i++) places[i] += places[i - 1];
  }
  return { starts, places, codes };
}

function seedsOf(parts) {
  const [waits, cells, sources, fates, takes] = parts.map(numbers);
  const landed = new Uint32Array(waits.length);
  for (let i = 0, step = 0; i < waits.length; i++) landed[i] = step += waits[i];
  const ended = landed.map((step, i) => step + takes[i]);
  return { landed, cells, sources, fates, ended };
}

// One strategy in one run of luck, taken apart when it is first looked at.
function runOf(parts) {
  return {
    ground: entries(...parts.slice(0, 3)),
    work: entries(...parts.slice(3, 6)),
    hosts: entries(...parts.slice(6, 9)),
    handled: entries(...parts.slice(9, 12)),
    seeds: seedsOf(parts.slice(12, 17)),
  };
}
const PARTS_OF_A_RUN = 17;
