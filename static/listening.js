// For the pages that ask for a take. Without this the form sends the file as it is; with it the browser decodes
// the file, and where it may hear, records here.
(() => {
  "use strict";
  const form = document.getElementById("listening");
  if (!form) return;
  const byId = (id) => document.getElementById(id);
  const field = byId("field-take");
  const RATE = 24000;
  const LONGEST_S = 240;
  function say(text) {
    const says = byId("listening-says");
    if (says.textContent !== text) says.textContent = text;
  }

  // One channel at RATE, whatever came.
  async function mono(audio) {
    const length = Math.max(1, Math.ceil(audio.duration * RATE));
    const offline = new OfflineAudioContext(1, length, RATE);
    const source = offline.createBufferSource();
    source.buffer = audio;
    source.connect(offline.destination);
    source.start();
    return (await offline.startRendering()).getChannelData(0);
  }

  // A plain WAV file of 16 bits a sample.
  function wav(samples) {
    const view = new DataView(new ArrayBuffer(44 + 2 * samples.length));
    const word = (at, text) => [...text].forEach((sign, n) => view.setUint8(at + n, sign.charCodeAt(0)));
    word(0, "RIFF"); view.setUint32(4, 36 + 2 * samples.length, true); word(8, "WAVEfmt ");
    view.setUint32(16, 16, true); view.setUint16(20, 1, true); view.setUint16(22, 1, true);
    view.setUint32(24, RATE, true); view.setUint32(28, 2 * RATE, true);
    view.setUint16(32, 2, true); view.setUint16(34, 16, true);
    word(36, "data"); view.setUint32(40, 2 * samples.length, true);
    samples.forEach((sample, n) => {
      view.setInt16(44 + 2 * n, Math.round(32767 * Math.max(-1, Math.min(1, sample))), true);
    });
    return new Blob([view], { type: "audio/wav" });
  }

  function send(samples) {
    if (samples.length > LONGEST_S * RATE) return say("This take is longer than four minutes. Record one string at a time.");
    const body = new FormData();
    body.append("take", wav(samples), "take.wav");
    const request = new XMLHttpRequest();
    request.open("POST", form.action);
    request.upload.onprogress = (event) => say(`Sending: ${Math.round(100 * event.loaded / event.total)} %`);
    request.onerror = () => say("Benchside did not answer. See that it is running, then try again.");
    request.onload = () => {
      if (request.status < 400) return location.assign(request.responseURL);
      const page = new DOMParser().parseFromString(request.responseText, "text/html");
      const told = page.querySelector("#err-take, [data-keep], .errors li");
      say(told ? told.textContent.replace(/^!\s*/, "") : "That did not work. Try it again.");
    };
    request.send(body);
  }

  form.addEventListener("submit", async (event) => {
    const file = field.files[0];
    if (!file || !window.OfflineAudioContext) return;
    event.preventDefault();
    say("Reading the recording");
    let audio;
    try {
      audio = await new OfflineAudioContext(1, RATE, RATE).decodeAudioData(await file.arrayBuffer());
    } catch {
      // What this browser cannot decode, Benchside may.
      return form.submit();
    }
    send(await mono(audio));
  });

  // Recording here, where the browser allows it.
  if (!window.isSecureContext || !navigator.mediaDevices || !window.AudioWorkletNode) return;
  const button = byId("record");
  const SILENT_DB = -50;
  const SILENCE_S = 6;
  byId("recorder").hidden = false;
  let stop = null;

  async function record() {
    const wished = { echoCancellation: false, noiseSuppression: false, autoGainControl: false, channelCount: 1 };
    let stream;
    try {
      stream = await navigator.mediaDevices.getUserMedia({ audio: wished });
    } catch {
      return say("The browser was not allowed to hear. Allow the microphone for this page, or choose a file.");
    }
    const context = new AudioContext();
    await context.audioWorklet.addModule(form.dataset.worklet);
    const ear = new AudioWorkletNode(context, "hearing", { numberOfOutputs: 0, channelCount: 1, channelCountMode: "explicit" });
    const parts = [];
    let heardAt = 0;
    let length = 0;
    const needle = needleOf(context.sampleRate);
    stop = async () => {
      stop = null;
      ear.port.onmessage = null;
      stream.getTracks().forEach((track) => track.stop());
      button.textContent = "Record here";
      say("Reading the recording");
      const audio = context.createBuffer(1, Math.max(1, length), context.sampleRate);
      let at = 0;
      for (const part of parts) { audio.copyToChannel(part, 0, at); at += part.length; }
      const samples = await mono(audio);
      await context.close();
      send(samples);
    };
    ear.port.onmessage = ({ data }) => {
      parts.push(data);
      length += data.length;
      const now = length / context.sampleRate;
      const power = data.reduce((sum, sample) => sum + sample * sample, 0) / data.length;
      const level = 10 * Math.log10(power + 1e-9);
      byId("level").value = level;
      if (level > SILENT_DB) heardAt = now;
      if (needle) needle(data, level > SILENT_DB);
      button.textContent = `Stop (${Math.round(now)} s)`;
      if (stop && (now > LONGEST_S - 1 || (heardAt && now - heardAt > SILENCE_S))) stop();
    };
    context.createMediaStreamSource(stream).connect(ear);
    await context.resume();
    say(`Recording. It stops by itself after ${SILENCE_S} quiet seconds.`);
  }
  button.addEventListener("click", () => (stop ? stop() : record()));

  // The needle: the last tenth of a second against itself, at a rate that is enough for an open string.
  function needleOf(rate) {
    if (!form.dataset.notes) return null;
    const notes = form.dataset.notes.split(";").map((one) => one.split("=")).map(([name, hertz]) => [name, Number(hertz)]);
    const step = Math.max(1, Math.floor(rate / 8000));
    const own = rate / step;
    const window = new Float32Array(Math.round(0.11 * own));
    byId("needle").hidden = byId("needle-says").hidden = false;
    return (data, isHeard) => {
      const fresh = new Float32Array(Math.floor(data.length / step));
      for (let n = 0; n < fresh.length; n++) {
        for (let k = 0; k < step; k++) fresh[n] += data[n * step + k] / step;
      }
      window.copyWithin(0, fresh.length);
      window.set(fresh, window.length - fresh.length);
      const hertz = isHeard ? pitch(window, own, notes.map(([, one]) => one)) : 0;
      if (!hertz) return;
      const away = (one) => 1200 * Math.log2(hertz / one[1]);
      const note = notes.reduce((best, one) => (Math.abs(away(one)) < Math.abs(away(best)) ? one : best));
      const cents = Math.round(away(note));
      const so = Math.abs(cents) <= 3 ? "in tune" : `${Math.abs(cents)} cents ${cents < 0 ? "flat" : "sharp"}`;
      byId("needle-says").textContent = `${note[0]}: ${so}`;
      byId("hand").setAttribute("transform", `translate(${Math.max(-96, Math.min(96, 2 * cents))} 0)`);
    };
  }

  // The delay at which a window is most like itself, between its samples; 0 where it is like itself at none.
  function pitch(window, rate, around) {
    const least = Math.floor(rate / (Math.max(...around) * 1.3));
    const most = Math.min(Math.ceil(rate / (Math.min(...around) / 1.3)), Math.floor(window.length * 0.6));
    const likeness = (delay) => {
      let both = 0, one = 1e-9, other = 1e-9;
      for (let n = 0; n + delay < window.length; n++) {
        both += window[n] * window[n + delay];
        one += window[n] * window[n];
        other += window[n + delay] * window[n + delay];
      }
      return both / Math.sqrt(one * other);
    };
    const told = [];
    for (let delay = least; delay <= most; delay++) told.push(likeness(delay));
    const top = Math.max(...told);
    if (top < 0.8) return 0;
    // The first peak that is nearly the highest: a later one is two periods.
    let at = told.findIndex((value, n) => value > 0.95 * top && value >= (told[n - 1] ?? -1) && value >= (told[n + 1] ?? -1));
    if (at <= 0 || at >= told.length - 1) return 0;
    const [a, b, c] = [told[at - 1], told[at], told[at + 1]];
    return rate / (least + at + (a - c) / (2 * (a - 2 * b + c)));
  }
})();
