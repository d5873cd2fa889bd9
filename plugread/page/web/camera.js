export default ({ data, parentElement, setTriggerValue }) => {
  const root = parentElement, say = root.querySelector('.m'), text = data.words
  const unsent = (window.plugreadUnsent ??= {})[data.visit] ??= []
  for (const [name, label] of [['one', text.one], ['all', text.all], ['pick', text.pick]]) {
    root.querySelector('.' + name).textContent = label
    root.querySelector('.i-' + name).setAttribute('aria-label', label)
  }
  root.querySelector('.main').classList.toggle('calm', !data.wanted)
  for (let i = unsent.length; i--;) if (data.received.includes(unsent[i].token)) unsent.splice(i, 1)
  if (!unsent.length) say.textContent = ''
  const send = () => { if (unsent.length) { setTriggerValue('shots', [...unsent]) } }
  clearInterval(root.timer)
  root.timer = setInterval(() => {
    if (!unsent.length) return
    if (Date.now() - unsent[0].since > 9000) say.textContent = text.waiting
    send()
  }, 4000)
  // Streamlit answers a lost link with a box over the page that makes everything behind it dead, the camera button too.
  const clear = () => {
    const linked = document.querySelector('[data-testid=stApp]')?.dataset.testConnectionState === 'CONNECTED'
    const box = linked ? null : document.querySelector('[data-testid=stDialog]')
    if (box && !box.querySelector('[data-testid=stVerticalBlock]')) box.querySelector('button')?.click()
  }
  clearInterval(root.watch)
  root.watch = setInterval(clear, 500)
  const smaller = async (file, side) => {
    const bitmap = await createImageBitmap(file, { imageOrientation: 'from-image' })
    const k = Math.min(1, side / Math.max(bitmap.width, bitmap.height)), canvas = document.createElement('canvas')
    canvas.width = Math.round(bitmap.width * k); canvas.height = Math.round(bitmap.height * k)
    const pen = canvas.getContext('2d', { colorSpace: 'srgb' })
    pen.imageSmoothingQuality = 'high'; pen.drawImage(bitmap, 0, 0, canvas.width, canvas.height); bitmap.close()
    return canvas.toDataURL('image/jpeg', 0.92)
  }
  const take = (kind, side) => async (event) => {
    const input = event.target, files = [...input.files]
    if (!files.length) return
    say.textContent = text.shrinking
    let failed = false
    for (const [k, file] of files.entries()) {
      try {
        const token = Date.now() + '-' + k + '-' + Math.random().toString(36).slice(2)
        unsent.push({ token, name: file.name, kind, cylinder: data.cylinder, since: Date.now(), url: await smaller(file, side) })
      } catch (error) { failed = true }
    }
    say.textContent = failed ? text.failed : text.sending
    send(); input.value = ''
  }
  root.querySelector('.i-one').onchange = take('one', data.side)
  root.querySelector('.i-all').onchange = take('row', data.rowSide)
  root.querySelector('.i-pick').onchange = take('pick', data.side)
  if (unsent.length) { say.textContent = text.sending }
  return () => { clearInterval(root.timer); clearInterval(root.watch) }
}
