/* A phone's camera as a scanner: by the browser's own reader of codes, else by one that is fetched when it is asked for. */
"use strict";

(function camera() {
  const wait = 150; /* milliseconds between two looks at the picture */
  const most = 640; /* of the picture's longer side, in dots, for the reader that is fetched: a code at arm's length is large */
  for (const row of document.querySelectorAll(".camera")) prepare(row);

  function prepare(row) {
    const button = row.querySelector("button");
    const told = row.querySelector("[role=status]");
    let stream = null;
    row.hidden = false;

    function stop() {
      if (stream) stream.getTracks().forEach((track) => track.stop());
      stream = null;
      row.querySelector("video")?.remove();
      button.textContent = row.dataset.start;
    }

    /* What is said when there is no picture: no secure page, no camera, or none given. */
    function refusal(trouble) {
      if (!navigator.mediaDevices) return window.isSecureContext ? row.dataset.absent : row.dataset.insecure;
      return trouble && trouble.name === "NotFoundError" ? row.dataset.absent : row.dataset.refused;
    }

    async function show() {
      stream = await navigator.mediaDevices.getUserMedia({ video: { facingMode: "environment" } });
      const picture = document.createElement("video");
      picture.muted = picture.playsInline = true;
      picture.srcObject = stream;
      row.append(picture);
      button.textContent = row.dataset.stop;
      await picture.play();
      return picture;
    }

    function found(text) {
      stop();
      const field = document.getElementById(row.dataset.fills);
      field.value = text;
      field.dispatchEvent(new Event("input", { bubbles: true }));
      if ("goes" in row.dataset) field.form.requestSubmit();
      else told.textContent = text;
    }

    async function scan() {
      if (stream) {
        stop();
        return;
      }
      told.textContent = "";
      let picture = null;
      try {
        picture = await show();
      } catch (trouble) {
        stop();
        told.textContent = refusal(trouble);
        return;
      }
      const read = await reader(row.dataset.reader).catch(() => null);
      if (!read) {
        stop();
        told.textContent = row.dataset.none;
        return;
      }
      while (picture.isConnected) {
        const text = await read(picture).catch(() => "");
        if (text && picture.isConnected) found(text);
        await new Promise((go) => setTimeout(go, wait));
      }
    }

    button.addEventListener("click", scan);
    addEventListener("pagehide", stop);
  }

  async function reader(address) {
    if ("BarcodeDetector" in window && (await BarcodeDetector.getSupportedFormats()).includes("qr_code")) {
      const own = new BarcodeDetector();
      return async (picture) => ((await own.detect(picture))[0] || { rawValue: "" }).rawValue;
    }
    const { decodeQR } = await import(address);
    const canvas = document.createElement("canvas");
    const pen = canvas.getContext("2d", { willReadFrequently: true });
    return async (picture) => {
      const scale = Math.min(1, most / Math.max(picture.videoWidth, picture.videoHeight, 1));
      canvas.width = Math.round(picture.videoWidth * scale);
      canvas.height = Math.round(picture.videoHeight * scale);
      if (!canvas.width || !canvas.height) return "";
      pen.drawImage(picture, 0, 0, canvas.width, canvas.height);
      return decodeQR(pen.getImageData(0, 0, canvas.width, canvas.height)); /* throws where it sees no code */
    };
  }
})();
