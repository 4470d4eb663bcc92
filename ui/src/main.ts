import { mount } from 'svelte'
import './app.css'
import App from './App.svelte'

const light = localStorage.getItem('light')
if (light) document.documentElement.setAttribute(`data-${light}`, '')
mount(App, { target: document.getElementById('app')! })
